/* alone.c: chords for a line that stands alone. */
#include "passes/alone.h"
#include "passes/harmonising.h"
#include <string.h>

/* ---- where chords may change ---- */

/* The while of one chord: a beat, or a bar; of bars of four beats or more, half of one. */
static muta_fraction unit_of(const muta_beat *beat, muta_chord_pace pace)
{
    const muta_fraction bar = muta_fraction_subtract(beat->end, beat->bar);
    const muta_fraction beats = muta_fraction_divide(bar, beat->beat);

    if (pace == MUTA_CHORD_A_BEAT)
        return beat->beat;
    return beats.bottom == 1 && beats.top >= 4 && beats.top % 2 == 0
               ? muta_fraction_divide(bar, muta_fraction_of(2, 1))
               : bar;
}

static muta_status find_whiles(struct muta_harmonising *work, muta_chord_pace pace,
                               const muta_passage_chord *heard, size_t count)
{
    const muta_fraction length = muta_passage_length(work->call->in);
    const struct muta_harmonised_note *const last = &work->tune.at[work->tune.count - 1];
    muta_fraction at = MUTA_ZERO;
    size_t of = 0;

    while (muta_fraction_compare(at, length) < 0) {
        muta_beat beat;
        muta_passage_beat_at(work->call->in, at, &beat);
        const muta_fraction unit = unit_of(&beat, pace);
        const muta_fraction gone = muta_fraction_divide(muta_fraction_subtract(at, beat.bar), unit);
        muta_fraction to = muta_fraction_add(
            beat.bar, muta_fraction_scale(unit, gone.bottom > 0 ? gone.top / gone.bottom + 1 : 1));
        to = muta_fraction_min(to, muta_fraction_min(beat.end, length));
        /* Under its last tone nothing moves any more. */
        if (muta_fraction_compare(to, at) <= 0 || muta_fraction_compare(last->onset, to) < 0)
            to = length;
        while (of + 1 < count && muta_fraction_compare(heard[of + 1].from, at) <= 0)
            of++;
        MUTA_TRY(muta_harmonising_add_slot(work, at, to, &heard[of],
                                           muta_fraction_compare(at, beat.bar) != 0));
        at = to;
    }
    work->slots.at[work->slots.count - 1].is_close = true;
    return MUTA_OK;
}

static muta_status harmonise(struct muta_harmonising *work, muta_chord_pace pace,
                             muta_passage_chord **chords, size_t *count)
{
    muta_passage_chord *heard;
    const muta_answer *answer;

    MUTA_TRY(muta_passage_list_chords(work->call->in, &work->arena, &heard, count));
    MUTA_TRY(muta_harmonising_find_tune(work));
    if (*count == 0 || work->tune.count == 0)
        return MUTA_OK;
    MUTA_TRY(find_whiles(work, pace, heard, *count));
    MUTA_TRY(muta_harmonising_find_chords(work));
    MUTA_TRY(muta_harmonising_search(work, &answer));
    MUTA_TRY(muta_harmonising_take(work, answer, chords));
    *count = work->slots.count;
    return MUTA_OK;
}

muta_status muta_harmonise_alone(const muta_call *call, muta_chord_pace pace, bool is_bass,
                                 muta_arena *arena, muta_passage_chord **chords, size_t *count)
{
    struct muta_harmonising work = {.call = call,
                                    .palette = "common-practice",
                                    .work = muta_passage_work(call->in),
                                    .alone = is_bass ? MUTA_ALONE_BASS : MUTA_ALONE_TUNE,
                                    .is_dense = pace == MUTA_CHORD_A_BEAT};
    muta_passage_chord *found = NULL;

    *chords = NULL;
    muta_status status = harmonise(&work, pace, &found, count);
    if (status == MUTA_OK && found) {
        *chords = muta_arena_take_array(arena, *count, sizeof **chords);
        if (*chords)
            memcpy(*chords, found, *count * sizeof **chords);
        else
            status = MUTA_E_MEMORY;
    }
    muta_arena_clear(&work.arena);
    return status;
}

muta_status muta_list_or_set_chords(const muta_call *call, muta_arena *arena,
                                    muta_passage_chord **chords, size_t *count)
{
    const muta_texture work = muta_passage_work(call->in);
    const muta_line *const line = muta_line_alone(call->in);

    if (line) {
        MUTA_TRY(muta_harmonise_alone(call, MUTA_CHORD_A_BAR, muta_lies_low(&work, line), arena,
                                      chords, count));
        if (*chords)
            return MUTA_OK;
    }
    return muta_passage_list_chords(call->in, arena, chords, count);
}
