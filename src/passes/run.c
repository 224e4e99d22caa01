/* run.c: a line of passes run on a score: what it works on, and where the result goes. */
#include "mutanza/limits.h"
#include "mutanza/study.h"
#include "passes/chain.h"
#include "score/texture.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Whether a line has two tones of different pitch, one after the other. */
static bool has_shape(const muta_texture *work, const muta_line *line)
{
    const muta_tone *before = NULL;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_tone *const tone = &work->tones[work->events[i].tone];
        if (tone->is_fixed || work->events[i].is_grace)
            continue;
        if (before && !muta_pitch_is_equal(before->pitch, tone->pitch))
            return true;
        before = tone;
    }
    return false;
}

/* Whether there is something here that every pass of the chain can work on. */
static bool has_work(const muta_chain *chain, const muta_passage *passage)
{
    const muta_texture work = muta_passage_work(passage);
    bool rhythm = true;
    bool shape = false;

    for (size_t i = 0; i < chain->links.count; i++) {
        rhythm = rhythm && chain->links.at[i].pass->works_on_rhythm;
        shape = shape || chain->links.at[i].pass->needs_shape;
    }
    for (size_t i = 0; i < work.line_count && shape; i++)
        if (has_shape(&work, &work.lines[i]))
            return true;
    for (size_t i = 0; i < work.tone_count && !shape; i++)
        if (rhythm || !work.tones[i].is_fixed)
            return true;
    return false;
}

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

/* The key that was asked for, as it is written in each part that does not sound as written. */
static void print_written_keys(const muta_chain *chain, const muta_score *score,
                               const muta_region *region, char *text, size_t room)
{
    char key[MUTA_KEY_TEXT];

    text[0] = '\0';
    for (size_t i = 0; i < chain->links.count; i++) {
        const muta_link *const link = &chain->links.at[i];
        for (size_t j = 0; j < link->pass->param_count; j++) {
            const muta_param *const param = &link->pass->params[j];
            const muta_given_key *const given =
                (const void *)((const char *)link->args + param->offset);
            if (param->type != MUTA_PARAM_KEY || !given->is_given)
                continue;
            for (size_t part = 0; part < muta_score_part_count(score); part++) {
                const muta_interval by = muta_region_transposition(region, score, part);
                int32_t fifths = given->key.fifths - muta_interval_fifths(by);
                const size_t used = strlen(text);
                if (muta_interval_fifths(by) == 0)
                    continue;
                /* As it is written: never with more than seven accidentals. */
                fifths -= fifths > MUTA_LIMIT_FIFTHS ? 12 : fifths < -MUTA_LIMIT_FIFTHS ? -12 : 0;
                muta_key_print((muta_key){fifths, given->key.mode}, key);
                (void)snprintf(text + used, room - used, ", written %.*s in %.40s",
                               (int)strcspn(key, " "), key, muta_score_part_name(score, part));
            }
        }
    }
}

static void add_bars(const muta_outcome *outcome, char *text, size_t room)
{
    const size_t count = outcome->bars_added ? outcome->bars_added : outcome->bars_removed;

    text[0] = '\0';
    if (outcome->tones_removed > 0) {
        const int used = snprintf(text, room, ", %zu taken out", outcome->tones_removed);
        text += used;
        room -= (size_t)used;
    }
    if (outcome->marks_added > 0) {
        const int used = snprintf(text, room, ", %zu mark%s put in", outcome->marks_added,
                                  outcome->marks_added == 1 ? "" : "s");
        text += used;
        room -= (size_t)used;
    }
    if (count > 0)
        (void)snprintf(text, room, ", %zu bar%s %s", count, count == 1 ? "" : "s",
                       outcome->bars_added ? "added" : "taken out");
}

/* What is said of a run, found before bars and numbers change. */
struct naming {
    char stretch[160];
    char keys[151];
};

/* Stretches that lie apart are named as they were given. */
static muta_status name(const muta_chain *chain, const muta_score *score, const muta_region *region,
                        struct naming *naming)
{
    muta_region *second;

    MUTA_TRY(muta_region_part(region, 1, &second));
    if (second)
        (void)snprintf(naming->stretch, sizeof naming->stretch, "%.150s",
                       chain->links.at[0].common.where);
    else
        muta_region_print(score, region, naming->stretch, sizeof naming->stretch);
    muta_region_free(second);
    print_written_keys(chain, score, region, naming->keys, sizeof naming->keys);
    return MUTA_OK;
}

static void report(const muta_chain *chain, const struct naming *naming, muta_outcome *outcome)
{
    char bars[96];

    add_bars(outcome, bars, sizeof bars);
    if (outcome->had_work)
        (void)snprintf(outcome->summary, sizeof outcome->summary,
                       "%.159s: %.300s, %zu tone%s changed%.95s%.150s", naming->stretch,
                       chain->text, outcome->tones_changed, outcome->tones_changed == 1 ? "" : "s",
                       bars, naming->keys);
    else
        (void)snprintf(outcome->summary, sizeof outcome->summary,
                       "%.159s: %.300s, nothing to change%.150s", naming->stretch, chain->text,
                       naming->keys);
}

/* What one run of a chain holds: each stretch of the region as it was lifted, and varied. */
struct work {
    muta_arena arena;
    MUTA_VEC(muta_passage *) lifted;
    MUTA_VEC(muta_passage *) varied;
    uint32_t made_part; /* for what passes add, or MUTA_NO_PART */
};

static void end_work(struct work *work)
{
    for (size_t i = 0; i < work->varied.count; i++)
        muta_passage_free(work->varied.at[i]);
    for (size_t i = 0; i < work->lifted.count; i++)
        muta_passage_free(work->lifted.at[i]);
    muta_arena_clear(&work->arena);
}

/* What the other parts do in the bars that are put in, as the last pass that lengthens says. */
static muta_others others_of(const muta_chain *chain)
{
    muta_others others = MUTA_OTHERS_REST;

    for (size_t i = 0; i < chain->links.count; i++)
        if (chain->links.at[i].pass->changes_length)
            others = (muta_others)chain->links.at[i].common.others;
    return others;
}

/* A stretch of the other parts, said again or scaled until it is as long as the varied one. */
static muta_status follow_stretch(const muta_passage *other, muta_fraction length,
                                  muta_others others, muta_passage *out)
{
    const muta_fraction was = muta_passage_length(other);
    muta_fraction at = MUTA_ZERO;

    if (others == MUTA_OTHERS_STRETCH) {
        MUTA_TRY(muta_passage_append(out, other, MUTA_ZERO, NULL));
        return muta_passage_scale(out, muta_fraction_divide(length, was));
    }
    while (was.top > 0 && muta_fraction_compare(at, length) < 0) {
        const muta_fraction left = muta_fraction_subtract(length, at);
        const muta_fraction end = muta_fraction_compare(left, was) < 0 ? left : was;
        MUTA_TRY(muta_passage_append_part(out, other, MUTA_ZERO, end, at, NULL));
        at = muta_fraction_add(at, was);
    }
    return MUTA_OK;
}

static muta_status follow_all(const muta_passage *other, const muta_passage *varied,
                              muta_others others, muta_passage *out)
{
    muta_status status = MUTA_OK;

    for (size_t i = 0; status == MUTA_OK && i < muta_passage_stretch_count(other); i++) {
        muta_passage *stretch = NULL;
        muta_passage *made = NULL;
        muta_fraction onset;
        muta_fraction length;
        muta_passage_stretch_at(varied, i, &onset, &length);
        status = muta_passage_take_stretch(other, i, &stretch);
        if (status == MUTA_OK)
            status = muta_passage_new_like(stretch, &made);
        if (status == MUTA_OK)
            status = follow_stretch(stretch, length, others, made);
        if (status == MUTA_OK)
            status = muta_passage_settle(made);
        if (status == MUTA_OK)
            status = muta_passage_add_stretch(out, i, made);
        muta_passage_free(made);
        muta_passage_free(stretch);
    }
    return status == MUTA_OK ? muta_passage_settle(out) : status;
}

/* The other parts over the same bars, where the varied ones grew. */
static muta_status vary_others(const muta_region *part, const muta_score *score, muta_others others,
                               struct work *work, muta_diags *diags)
{
    const muta_passage *const varied = work->varied.at[work->varied.count - 1];
    muta_passage **const in = MUTA_PUSH(&work->arena, &work->lifted);
    muta_region *rest = NULL;

    if (!in)
        return MUTA_E_MEMORY;
    work->lifted.count--;
    MUTA_TRY(muta_region_rest(score, part, &rest));
    if (!rest)
        return MUTA_OK;
    const muta_status status = muta_passage_lift(score, rest, in, diags);
    muta_region_free(rest);
    MUTA_TRY(status);
    work->lifted.count++;
    muta_passage **const out = MUTA_PUSH(&work->arena, &work->varied);
    if (!out)
        return MUTA_E_MEMORY;
    work->varied.count--;
    MUTA_TRY(muta_passage_new_like(*in, out));
    work->varied.count++;
    return follow_all(*in, varied, others, *out);
}

static bool needs_mode(const muta_chain *chain)
{
    for (size_t i = 0; i < chain->links.count; i++) {
        const muta_link *const link = &chain->links.at[i];
        if (link->pass->needs_mode && link->pass->needs_mode(link->args))
            return true;
    }
    return false;
}

static bool needs_study(const muta_chain *chain)
{
    for (size_t i = 0; i < chain->links.count; i++)
        if (chain->links.at[i].pass->needs_study)
            return true;
    return false;
}

/* Lays what is heard into the passage that was lifted last: as into one before it, if it is like
 * it.
 */
static muta_status lay(struct work *work)
{
    muta_passage *const in = work->lifted.at[work->lifted.count - 1];

    for (size_t i = 0; i + 1 < work->lifted.count; i++)
        if (muta_study_lay_like(in, work->lifted.at[i]))
            return MUTA_OK;
    return muta_study_lay(in);
}

/* Lifts a region and runs the passes on it, if there is something to work on. */
static muta_status vary_part(const muta_chain *chain, const muta_region *part,
                             const muta_score *score, uint64_t seed, struct work *work,
                             muta_diags *diags)
{
    muta_passage **const in = MUTA_PUSH(&work->arena, &work->lifted);

    if (!in)
        return MUTA_E_MEMORY;
    work->lifted.count--;
    MUTA_TRY(muta_passage_lift(score, part, in, diags));
    work->lifted.count++;
    (*in)->made_part = work->made_part;
    if (!has_work(chain, *in))
        return MUTA_OK;
    if (needs_mode(chain))
        MUTA_TRY(muta_study_modes(*in));
    if (needs_study(chain))
        MUTA_TRY(lay(work));
    muta_passage **const out = MUTA_PUSH(&work->arena, &work->varied);
    if (!out)
        return MUTA_E_MEMORY;
    work->varied.count--;
    MUTA_TRY(muta_chain_apply(chain, *in, seed, out, diags));
    work->varied.count++;
    return others_of(chain) == MUTA_OTHERS_REST
               ? MUTA_OK
               : vary_others(part, score, others_of(chain), work, diags);
}

static muta_status vary_region(const muta_chain *chain, const muta_region *region,
                               const muta_score *score, uint64_t seed, struct work *work,
                               muta_diags *diags)
{
    muta_region *part;
    muta_status status = MUTA_OK;

    for (size_t nth = 0; status == MUTA_OK; nth++) {
        MUTA_TRY(muta_region_part(region, nth, &part));
        if (!part)
            break;
        status = vary_part(chain, part, score, seed, work, diags);
        muta_region_free(part);
    }
    return status;
}

static const char nothing_here[] =
    "there is nothing here that it could change; the music stays as it is";

/* Whether only passes that look for what suits them ran: they may have found nothing. */
static bool finds_its_work(const muta_chain *chain)
{
    for (size_t i = 0; i < chain->links.count; i++)
        if (!chain->links.at[i].pass->finds_work)
            return false;
    return true;
}

static bool keeps_chords(const muta_chain *chain)
{
    for (size_t i = 0; i < chain->links.count; i++)
        if (!chain->links.at[i].pass->keeps_chords)
            return false;
    return true;
}

static muta_status splice(const muta_chain *chain, struct work *work, muta_score *score,
                          uint64_t seed, muta_outcome *outcome, muta_diags *diags)
{
    const muta_passage *const *const varied = (const void *)work->varied.at;
    muta_change change;

    if (work->varied.count == 0) {
        muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE, "%s", nothing_here);
        return MUTA_OK;
    }
    for (size_t i = 0; i < work->varied.count; i++) {
        if (!keeps_chords(chain))
            warn_of_harmony(varied[i], others_of(chain), diags);
        warn_of_range(varied[i], diags);
        if (!varied[i]->is_tail && !varied[i]->is_remetred)
            warn_of_grid(varied[i], diags);
    }
    MUTA_TRY(muta_passages_splice(varied, work->varied.count, score, &change, diags));
    outcome->had_work = !finds_its_work(chain) ||
                        change.tones_changed + change.tones_removed + change.marks_added > 0;
    if (!outcome->had_work) {
        muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE, "%s", nothing_here);
        return MUTA_OK;
    }
    outcome->tones_changed = change.tones_changed;
    outcome->tones_removed = change.tones_removed;
    outcome->bars_added = change.bars_added;
    outcome->bars_removed = change.bars_removed;
    outcome->marks_added = change.marks_added;
    return muta_score_sign(score, chain->text, seed);
}

/* Bars and notes that are counted are counted from the first full bar. */
static muta_default where_of(const muta_link *first)
{
    return first->pass->bars && first->pass->bars(first->args) > 0 ? MUTA_FIRST_BAR
                                                                   : first->pass->where;
}

static muta_status find_region(const muta_chain *chain, const muta_score *score,
                               muta_region **region, muta_diags *diags)
{
    const muta_link *const first = &chain->links.at[0];
    bool moves_time = false;

    for (size_t i = 0; i < chain->links.count; i++)
        moves_time = moves_time || chain->links.at[i].pass->moves_time;
    MUTA_TRY(first->common.where ? muta_region_parse(score, first->common.where, region, diags)
                                 : muta_study_default(score, where_of(first), region));
    if (!first->common.where && first->pass->bars)
        muta_region_lengthen(score, *region, first->pass->bars(first->args));
    if (moves_time && muta_region_take_groups(score, *region))
        muta_diag_add(diags, MUTA_WARNING, muta_score_place(score, NULL, (*region)->from),
                      "an edge lies inside a tuplet or a tremolo of two notes; the whole group is "
                      "taken in");
    return MUTA_OK;
}

/* A passage of the region, as the passes will find it, that says what they need. */
static muta_status lift_to_ask(const muta_chain *chain, const muta_region *region,
                               const muta_score *score, muta_passage **in, muta_diags *diags)
{
    MUTA_TRY(muta_passage_lift(score, region, in, diags));
    const muta_status status = needs_study(chain) ? muta_study_lay(*in) : MUTA_OK;
    if (status != MUTA_OK)
        muta_passage_free(*in);
    return status;
}

static bool may_need_part(const muta_chain *chain)
{
    for (size_t i = 0; i < chain->links.count; i++)
        if (chain->links.at[i].pass->needs_part)
            return true;
    return false;
}

static bool asks_for_part(const muta_chain *chain, const muta_passage *in)
{
    for (size_t i = 0; i < chain->links.count; i++) {
        const muta_link *const link = &chain->links.at[i];
        if (link->pass->needs_part && in->chord_count > 0 && link->pass->needs_part(link->args, in))
            return true;
    }
    return false;
}

/* The part that the tune is in; the last one when it is in none. */
static size_t part_of_tune(const muta_passage *in)
{
    for (size_t i = 0; i < in->work.lines.count; i++)
        if (in->work.lines.at[i].is_tune)
            return in->work.lines.at[i].part;
    return in->score->part_count - 1;
}

/* Makes the part that passes write into, if they need one; those behind it move down. */
static muta_status make_part(const muta_chain *chain, muta_region *region, muta_score *score,
                             struct work *work, muta_diags *diags)
{
    static const muta_part_spec piano = {"Piano", "Pno.", "keyboard.piano", 1};
    muta_passage *in;
    size_t made;

    if (work->made_part != MUTA_NO_PART || !may_need_part(chain) || score->part_count == 0)
        return MUTA_OK;
    MUTA_TRY(lift_to_ask(chain, region, score, &in, diags));
    const bool asks = asks_for_part(chain, in);
    const size_t after = part_of_tune(in);
    muta_passage_free(in);
    if (!asks)
        return MUTA_OK;
    MUTA_TRY(muta_score_add_part(score, after, &piano, &made, diags));
    for (size_t i = 0; i < region->ranges.count; i++)
        region->ranges.at[i].part += region->ranges.at[i].part >= made;
    work->made_part = (uint32_t)made;
    return MUTA_OK;
}

/*
 * Lifts, runs the passes, splices: in the place of the region.
 * @param made  [in,out] the part that was made for the passes, which takes share; or MUTA_NO_PART
 */
static muta_status run_in_place(const muta_chain *chain, muta_score *score, muta_region *region,
                                uint64_t seed, uint32_t *made, muta_outcome *done,
                                muta_diags *diags)
{
    struct work work = {.made_part = *made};
    muta_status status = make_part(chain, region, score, &work, diags);

    *made = work.made_part;
    if (status == MUTA_OK)
        status = vary_region(chain, region, score, seed, &work, diags);

    if (status == MUTA_OK)
        status = splice(chain, &work, score, seed, done, diags);
    end_work(&work);
    return status;
}

/* ---- where the result goes ---- */

/* How the takes of a chain differ: by the seed, by the next best answer of its last pass, or not.
 */
typedef enum {
    TAKES_ALIKE,
    TAKES_BY_SEED,
    TAKES_BY_PICK,
} takes_by;

enum {
    LONGEST_LINE = 400
};

static takes_by takes_of(const muta_chain *chain)
{
    const muta_link *const last = &chain->links.at[chain->links.count - 1];

    for (size_t i = 0; i < chain->links.count; i++)
        if (chain->links.at[i].pass->uses_seed)
            return TAKES_BY_SEED;
    return last->pass->searches && last->common.pick == 0 && strlen(chain->text) <= LONGEST_LINE
               ? TAKES_BY_PICK
               : TAKES_ALIKE;
}

/* `embellish amount=0.4 --seed 3`, `divide pick=2`: what is typed to get an answer again. */
static void print_take(const muta_chain *chain, const muta_setting *setting, size_t take,
                       char *text, size_t room)
{
    if (setting->takes == 1)
        (void)snprintf(text, room, "%.400s", chain->text);
    else if (takes_of(chain) == TAKES_BY_PICK)
        (void)snprintf(text, room, "%.400s pick=%zu", chain->text, take + 1);
    else
        (void)snprintf(text, room, "%.400s --seed %" PRIu64, chain->text, setting->seed + take);
}

/* The bar behind the last one that a region reaches. */
static size_t end_bar(const muta_region *region)
{
    return region->to.onset.top > 0 ? (size_t)region->to.bar + 1 : region->to.bar;
}

/* Says the bars of a region again, once for each take. */
static muta_status append_takes(const muta_chain *chain, muta_score *score,
                                const muta_setting *setting, size_t from, size_t to,
                                muta_diags *diags)
{
    const bool is_alone = setting->to == MUTA_ONLY;
    const bool has_headings = !setting->no_heading && !is_alone;
    const size_t theme_bars = score->bar_count;
    const char *headings[MUTA_LIMIT_TAKES];
    muta_arena arena;

    if (setting->takes > MUTA_LIMIT_TAKES)
        return MUTA_E_RANGE;
    muta_arena_init(&arena);
    muta_status status = MUTA_OK;
    for (size_t take = 0; status == MUTA_OK && take < setting->takes; take++) {
        char heading[512];
        print_take(chain, setting, take, heading, sizeof heading);
        headings[take] = muta_arena_copy_text(&arena, heading, strlen(heading));
        status = headings[take] ? MUTA_OK : MUTA_E_MEMORY;
    }
    if (status == MUTA_OK)
        status = muta_score_append_sections(score, from, to, is_alone,
                                            has_headings ? headings : NULL, setting->takes, diags);
    muta_arena_clear(&arena);
    if (status != MUTA_OK || !is_alone)
        return status;
    return muta_score_keep_section(score, theme_bars, from);
}

static void warn_of_takes(const muta_chain *chain, size_t takes, muta_diags *diags)
{
    if (takes > 1 && takes_of(chain) == TAKES_ALIKE)
        muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                      "these passes answer alike whatever the seed; the takes are the same");
}

/* The answer of one take in its section, to be spliced with the others. */
static muta_status vary_take(const muta_chain *chain, muta_score *score,
                             const muta_setting *setting, size_t take, muta_region *region,
                             struct work *work, muta_diags *diags)
{
    char text[512];
    muta_chain *own;

    if (setting->takes == 1 || takes_of(chain) != TAKES_BY_PICK)
        return vary_region(chain, region, score, setting->seed + take, work, diags);
    print_take(chain, setting, take, text, sizeof text);
    MUTA_TRY(muta_chain_parse(text, &own, diags));
    const muta_status status = vary_region(own, region, score, setting->seed, work, diags);
    muta_chain_free(own);
    return status;
}

/* All takes are varied from one reading, and written in one go. */
static muta_status run_together(const muta_chain *chain, muta_score *score,
                                const muta_setting *setting, muta_region *region, size_t bars,
                                muta_outcome *done, muta_diags *diags)
{
    struct work work = {.made_part = MUTA_NO_PART};
    muta_status status = make_part(chain, region, score, &work, diags);

    for (size_t take = 0; status == MUTA_OK && take < setting->takes; take++) {
        status = vary_take(chain, score, setting, take, region, &work, diags);
        muta_region_shift(region, (int64_t)bars);
    }
    if (status == MUTA_OK)
        status = splice(chain, &work, score, setting->seed, done, diags);
    end_work(&work);
    return status;
}

/* One by one, each written before the next is read: where the bar in which a take ends is cut. From
 * behind, so that bars that are put in leave those before them where they are. */
static muta_status run_apart(const muta_chain *chain, muta_score *score,
                             const muta_setting *setting, muta_region *region, size_t bars,
                             muta_outcome *done, muta_diags *diags)
{
    uint32_t made = MUTA_NO_PART;
    muta_status status = MUTA_OK;

    muta_region_shift(region, (int64_t)(setting->takes * bars));
    for (size_t take = setting->takes; status == MUTA_OK && take > 0; take--) {
        struct work work = {.made_part = made};
        muta_region_shift(region, -(int64_t)bars);
        status = make_part(chain, region, score, &work, diags);
        made = work.made_part;
        if (status == MUTA_OK)
            status = vary_take(chain, score, setting, take - 1, region, &work, diags);
        if (status == MUTA_OK)
            status = splice(chain, &work, score, setting->seed + take - 1, done, diags);
        end_work(&work);
    }
    return status;
}

static muta_status run_as_section(const muta_chain *chain, muta_score *score,
                                  const muta_setting *setting, muta_region *region,
                                  muta_outcome *done, muta_diags *diags)
{
    const size_t from = region->from.bar;
    const size_t to = end_bar(region);
    const size_t first = setting->to == MUTA_ONLY ? 0 : score->bar_count;

    warn_of_takes(chain, setting->takes, diags);
    MUTA_TRY(append_takes(chain, score, setting, from, to, diags));
    muta_region_shift(region, (int64_t)first - (int64_t)from);
    return (region->to.onset.top > 0 ? run_apart : run_together)(chain, score, setting, region,
                                                                 to - from, done, diags);
}

/* Nothing sounds any more in a region; its rests are the composer's. */
static muta_status silence(muta_score *score, const muta_region *region, muta_diags *diags)
{
    muta_passage *in;
    muta_passage *out;

    if (!region)
        return MUTA_OK;
    MUTA_TRY(muta_passage_lift(score, region, &in, diags));
    muta_status status = muta_passage_new_like(in, &out);
    if (status == MUTA_OK) {
        status = muta_passages_splice((const muta_passage *const[]){out}, 1, score, NULL, diags);
        muta_passage_free(out);
    }
    muta_passage_free(in);
    return status;
}

static bool has_part(const muta_region *region, uint32_t part)
{
    for (size_t i = 0; i < region->ranges.count; i++)
        if (region->ranges.at[i].part == part)
            return true;
    return false;
}

/* A copy of a part under it that holds what the region reaches, which from now on means the copy.
 */
static muta_status set_beside(muta_score *score, muta_region *region, uint32_t part,
                              muta_diags *diags)
{
    muta_region *own = NULL;
    size_t made;

    const muta_status copied =
        muta_score_copy_part(score, part, region->from.bar, end_bar(region), &made);
    if (copied == MUTA_E_DATA)
        muta_diag_add(diags, MUTA_ERROR,
                      (muta_place){.part = muta_score_part_name(score, part), .beat = {0, 0}},
                      "a part without an id of its own cannot be set beside itself");
    MUTA_TRY(copied);
    muta_region_push(region, part);
    MUTA_TRY(muta_region_complement(score, region, made, &own));
    const muta_status status = silence(score, own, diags);
    muta_region_free(own);
    return status;
}

/* The varied lines in parts of their own, under those that they come from. */
static muta_status run_beside(const muta_chain *chain, muta_score *score,
                              const muta_setting *setting, muta_region *region, muta_outcome *done,
                              muta_diags *diags)
{
    uint32_t made = MUTA_NO_PART;

    if (score->is_timewise) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "--beside needs a partwise score");
        return MUTA_E_DATA;
    }
    /* From below, so that those above keep their places. */
    for (uint32_t part = (uint32_t)score->part_count; part > 0; part--)
        if (has_part(region, part - 1))
            MUTA_TRY(set_beside(score, region, part - 1, diags));
    MUTA_TRY(run_in_place(chain, score, region, setting->seed, &made, done, diags));
    if (done->bars_added > 0) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "the result is longer than what it should sound beside; use --append");
        return MUTA_E_DATA;
    }
    return MUTA_OK;
}

muta_status muta_chain_run_as(const muta_chain *chain, muta_score *score,
                              const muta_setting *setting, muta_outcome *outcome, muta_diags *diags)
{
    muta_outcome done = {0};
    uint32_t made = MUTA_NO_PART;
    struct naming naming;
    muta_region *region;

    MUTA_TRY(find_region(chain, score, &region, diags));
    muta_status status = name(chain, score, region, &naming);
    if (status == MUTA_OK && setting->to == MUTA_BESIDE)
        status = run_beside(chain, score, setting, region, &done, diags);
    else if (status == MUTA_OK && (setting->to != MUTA_IN_PLACE || setting->takes > 1))
        status = run_as_section(chain, score, setting, region, &done, diags);
    else if (status == MUTA_OK)
        status = run_in_place(chain, score, region, setting->seed, &made, &done, diags);
    /* What is new beside the old has a name of its own. */
    if (status == MUTA_OK && setting->to == MUTA_BESIDE)
        status = name(chain, score, region, &naming);
    muta_region_free(region);
    if (status == MUTA_OK && outcome) {
        report(chain, &naming, &done);
        *outcome = done;
    }
    return status;
}

muta_status muta_chain_run(const muta_chain *chain, muta_score *score, uint64_t seed,
                           muta_outcome *outcome, muta_diags *diags)
{
    const muta_setting setting = {.seed = seed, .takes = 1};

    return muta_chain_run_as(chain, score, &setting, outcome, diags);
}
