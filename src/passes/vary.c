/* vary.c: a region lifted, varied and spliced, stretch by stretch. */
#include "mutanza/study.h"
#include "passes/run.h"

static const char nothing_here[] =
    "there is nothing here that it could change; the music stays as it is";

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
    const bool shape = muta_chain_needs(chain) & MUTA_NEEDS_SHAPE;
    const bool pitch = muta_chain_needs(chain) & MUTA_NEEDS_PITCH;

    for (size_t i = 0; i < work.line_count && shape; i++)
        if (has_shape(&work, &work.lines[i]))
            return true;
    for (size_t i = 0; i < work.tone_count && !shape; i++)
        if (!pitch || !work.tones[i].is_fixed)
            return true;
    return false;
}

/* ---- the other parts ---- */

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
                               muta_work *work, muta_diags *diags)
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

/* ---- the region, stretch by stretch ---- */

static bool needs_mode(const muta_chain *chain)
{
    for (size_t i = 0; i < chain->links.count; i++) {
        const muta_link *const link = &chain->links.at[i];
        if (link->pass->needs_mode && link->pass->needs_mode(link->args))
            return true;
    }
    return false;
}

/* Hears the score, if it was not heard yet; what can only be guessed stays unheard. */
static muta_status hear(muta_work *work, const muta_score *score)
{
    if (work->heard || score->own_grids)
        return MUTA_OK;
    const muta_status status = muta_study_new(score, NULL, &work->heard, NULL);
    return status == MUTA_E_DATA ? MUTA_OK : status;
}

/* Lays what is heard into the passage that was lifted last: as into one before it, if it is like
 * it. */
static muta_status lay(muta_work *work, const muta_score *score)
{
    muta_passage *const in = work->lifted.at[work->lifted.count - 1];

    if (work->asked && muta_study_lay_like(in, work->asked))
        return MUTA_OK;
    for (size_t i = 0; i + 1 < work->lifted.count; i++)
        if (muta_study_lay_like(in, work->lifted.at[i]))
            return MUTA_OK;
    MUTA_TRY(hear(work, score));
    return work->heard ? muta_study_lay(in, work->heard) : MUTA_OK;
}

/* Lifts a region and runs the passes on it, if there is something to work on. */
static muta_status vary_part(const muta_chain *chain, const muta_region *part,
                             const muta_score *score, const muta_take *take, muta_work *work,
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
    if (needs_mode(chain) && (muta_chain_needs(chain) & MUTA_NEEDS_STUDY))
        MUTA_TRY(hear(work, score));
    if (needs_mode(chain))
        MUTA_TRY(muta_study_modes(*in, work->heard));
    if (muta_chain_needs(chain) & MUTA_NEEDS_STUDY)
        MUTA_TRY(lay(work, score));
    muta_passage **const out = MUTA_PUSH(&work->arena, &work->varied);
    if (!out)
        return MUTA_E_MEMORY;
    work->varied.count--;
    MUTA_TRY(muta_chain_answer(chain, *in, take, out, diags));
    work->varied.count++;
    return muta_chain_others(chain) == MUTA_OTHERS_REST
               ? MUTA_OK
               : vary_others(part, score, muta_chain_others(chain), work, diags);
}

muta_status muta_work_vary(muta_work *work, const muta_chain *chain, const muta_region *region,
                           const muta_score *score, const muta_take *take, muta_diags *diags)
{
    muta_region *part;
    muta_status status = MUTA_OK;

    for (size_t nth = 0; status == MUTA_OK; nth++) {
        MUTA_TRY(muta_region_part(region, nth, &part));
        if (!part)
            break;
        status = vary_part(chain, part, score, take, work, diags);
        muta_region_free(part);
    }
    return status;
}

muta_status muta_work_splice(muta_work *work, const muta_chain *chain, muta_score *score,
                             uint64_t seed, muta_outcome *outcome, muta_diags *diags)
{
    const muta_passage *const *const varied = (const void *)work->varied.at;
    muta_change change;

    if (work->varied.count == 0) {
        muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE, "%s", nothing_here);
        return MUTA_OK;
    }
    for (size_t i = 0; i < work->varied.count; i++)
        muta_warn_of_result(chain, varied[i], work->chord_count > 0, diags);
    MUTA_TRY(muta_passages_splice(varied, work->varied.count, score, &change, diags));
    outcome->had_work = !(muta_chain_common_answer(chain) & MUTA_MAY_FIND_NOTHING) ||
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

/* ---- a part that passes write into ---- */

/* A passage of the region, as the passes will find it, that says what they need. */
static muta_status lift_to_ask(const muta_chain *chain, const muta_region *region,
                               const muta_score *score, muta_passage **in, muta_diags *diags)
{
    MUTA_TRY(muta_passage_lift(score, region, in, diags));
    const muta_status status =
        muta_chain_needs(chain) & MUTA_NEEDS_STUDY ? muta_study_lay(*in, NULL) : MUTA_OK;
    if (status != MUTA_OK) {
        muta_passage_free(*in);
        *in = NULL;
    }
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

muta_status muta_work_make_part(muta_work *work, const muta_chain *chain, muta_region *region,
                                muta_score *score, muta_diags *diags)
{
    static const muta_part_spec piano = {"Piano", "Pno.", "keyboard.piano", 1};
    size_t made;

    if (work->made_part != MUTA_NO_PART || !may_need_part(chain) || score->part_count == 0)
        return MUTA_OK;
    MUTA_TRY(lift_to_ask(chain, region, score, &work->asked, diags));
    if (!asks_for_part(chain, work->asked))
        return MUTA_OK;
    MUTA_TRY(muta_score_add_part(score, part_of_tune(work->asked), &piano, &made, diags));
    for (size_t i = 0; i < work->asked->work.lines.count; i++)
        work->asked->work.lines.at[i].part += work->asked->work.lines.at[i].part >= made;
    for (size_t i = 0; i < region->ranges.count; i++)
        region->ranges.at[i].part += region->ranges.at[i].part >= made;
    work->made_part = (uint32_t)made;
    return MUTA_OK;
}

void muta_work_end(muta_work *work)
{
    for (size_t i = 0; i < work->varied.count; i++)
        muta_passage_free(work->varied.at[i]);
    for (size_t i = 0; i < work->lifted.count; i++)
        muta_passage_free(work->lifted.at[i]);
    muta_passage_free(work->asked);
    muta_study_free(work->heard);
    muta_arena_clear(&work->arena);
}

muta_status muta_run_in_place(const muta_chain *chain, muta_score *score, muta_region *region,
                              uint64_t seed, bool follows, muta_outcome *done, muta_diags *diags)
{
    muta_work work = {.made_part = MUTA_NO_PART};
    const muta_take take = {.seed = seed};
    muta_status status = muta_work_make_part(&work, chain, region, score, diags);

    if (status == MUTA_OK)
        status = muta_work_vary(&work, chain, region, score, &take, diags);
    if (status == MUTA_OK && follows && work.varied.count > 0)
        status = muta_accompany_note(&work, region, score, diags);
    if (status == MUTA_OK)
        status = muta_work_splice(&work, chain, score, seed, done, diags);
    if (status == MUTA_OK)
        status = muta_accompany(&work, region, score, done, diags);
    muta_work_end(&work);
    return status;
}
