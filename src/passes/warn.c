/* warn.c: what a player or a reader would find out too late, told of what a chain has made. */
#include "passes/run.h"
#include "score/texture.h"

/* A tune that moves away from the others leaves them with the old harmony. */
static void warn_of_harmony(const muta_passage *passage, muta_others others, muta_diags *diags)
{
    const muta_texture context = muta_passage_context(passage);
    const muta_texture work = muta_passage_work(passage);
    const bool moves = !muta_passage_keeps_time(passage) && others == MUTA_OTHERS_REST;
    bool changed = false;

    for (size_t i = 0; i < work.tone_count; i++)
        changed = changed || work.tones[i].is_pitch_changed;
    if (!changed && !moves)
        return;
    /* Chord symbols go along with time. */
    if (changed && muta_passage_leaves_chords(passage))
        muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                      "the chord symbols still name the old harmony");
    for (size_t i = 0; i < context.tone_count; i++)
        if (!context.tones[i].is_fixed) {
            muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                          "the other parts still play the old harmony");
            return;
        }
}

static bool lies_inside(const muta_passage *passage, muta_moment at)
{
    return muta_moment_compare(passage->from, at) < 0 && muta_moment_compare(at, passage->to) < 0;
}

/* Whether a signature of key or metre stands inside a passage. */
static bool has_signature_inside(const muta_passage *passage)
{
    const muta_score *const score = passage->score;

    for (size_t i = 0; i < score->part_count; i++)
        for (size_t j = 0; j < score->parts[i].keys.count; j++)
            if (lies_inside(passage, score->parts[i].keys.at[j].at))
                return true;
    for (uint32_t bar = passage->from.bar + 1; bar < passage->to.bar; bar++)
        if (muta_fraction_compare(score->bars[bar - 1].metre.length,
                                  score->bars[bar].metre.length) != 0)
            return true;
    return false;
}

/* Whether longer values put the first down-beat behind an upbeat inside a bar. */
static bool has_long_upbeat(const muta_passage *passage)
{
    const muta_score *const score = passage->score;
    const muta_statement *const first = &passage->map.at[0];

    if (passage->from.bar + 1 >= score->bar_count ||
        (passage->from.onset.top == 0 && !muta_bar_is_end(score, passage->from.bar)) ||
        muta_fraction_compare(first->scale, muta_fraction_of(1, 1)) <= 0)
        return false;
    const muta_fraction start =
        muta_fraction_add(score->bars[passage->from.bar].start, passage->from.onset);
    const muta_fraction downbeat =
        muta_fraction_subtract(score->bars[passage->from.bar + 1].start, start);
    return muta_fraction_compare(downbeat, first->to) < 0 &&
           !muta_passage_is_downbeat(passage, muta_statement_place(first, downbeat));
}

/* Whether signatures go with the bars: those of all parts, unless time is turned round. */
static bool takes_signatures(const muta_passage *passage)
{
    for (size_t i = 0; i < passage->map.count; i++)
        if (passage->map.at[i].is_mirrored)
            return false;
    return passage->is_regridded;
}

/* Elsewhere signatures and bar lines stay where they are when time moves. */
static void warn_of_grid(const muta_passage *passage, muta_diags *diags)
{
    if (passage->map.count == 0 || muta_passage_keeps_time(passage))
        return;
    if (has_signature_inside(passage) && !takes_signatures(passage))
        muta_diag_add(diags, MUTA_WARNING, muta_score_place(passage->score, NULL, passage->from),
                      "the key or metre changes inside the passage, and stays where it changes "
                      "while the tones move");
    if (has_long_upbeat(passage))
        muta_diag_add(diags, MUTA_WARNING, muta_score_place(passage->score, NULL, passage->from),
                      "the passage begins with an upbeat, whose longer values put the down-beats "
                      "inside the bars; begin it at a bar line to keep them");
}

/* Tones that the instrument does not have: the player is told before the rehearsal. */
static void warn_of_range(const muta_passage *passage, muta_diags *diags)
{
    const muta_score *const score = muta_passage_score(passage);

    for (uint32_t part = 0; part < muta_score_part_count(score); part++) {
        muta_instrument instrument;
        const size_t count = muta_passage_outside(passage, part, &instrument);
        char low[MUTA_PITCH_TEXT];
        char high[MUTA_PITCH_TEXT];
        if (count == 0)
            continue;
        muta_pitch_print(instrument.low, low);
        muta_pitch_print(instrument.high, high);
        muta_diag_add(diags, MUTA_WARNING,
                      (muta_place){.part = muta_score_part_name(score, part), .beat = {0, 0}},
                      "%zu tone%s outside the range of the %.*s, %s to %s", count,
                      count == 1 ? " lies" : "s lie", (int)instrument.name.length,
                      instrument.name.at, low, high);
    }
}

void muta_warn_of_result(const muta_chain *chain, const muta_passage *passage, bool follows,
                         muta_diags *diags)
{
    if (!follows && !(muta_chain_common_effect(chain) & MUTA_KEEPS_CHORDS))
        warn_of_harmony(passage, muta_chain_others(chain), diags);
    warn_of_range(passage, diags);
    if (!passage->is_tail && !passage->is_remetred)
        warn_of_grid(passage, diags);
}
