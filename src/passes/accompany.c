/*
 * accompany.c: where a pass gave the tune other pitches, the others go with it: their figures are
 * put on chords that fit the tune as it is now. The chords that were heard before it changed stay
 * where they still do.
 */
#include "passes/run.h"
#include <stdlib.h>
#include <string.h>

bool muta_chain_is_accompanied(const muta_chain *chain)
{
    const char *const where = chain->links.at[0].common.where;
    const bool is_tune = !where || strcmp(where, "tune") == 0;

    for (size_t i = 0; i < chain->links.count; i++) {
        const muta_link *const link = &chain->links.at[i];
        if ((link->pass->effect & MUTA_BENDS_TUNE) &&
            (link->common.accompaniment == MUTA_FOLLOW ||
             (link->common.accompaniment == MUTA_FOLLOW_TUNE && is_tune)))
            return true;
    }
    return false;
}

/* Everything that sounds in the bars of a region. */
static muta_status lift_all(const muta_score *score, const muta_region *region,
                            muta_passage **passage, muta_diags *diags)
{
    muta_region *all;

    MUTA_TRY(muta_region_between(score, region->from, region->to, &all));
    const muta_status status = muta_passage_lift(score, all, passage, diags);
    muta_region_free(all);
    return status;
}

muta_status muta_accompany_note(muta_work *work, const muta_region *region, const muta_score *score,
                                muta_diags *diags)
{
    muta_passage *all;

    MUTA_TRY(lift_all(score, region, &all, diags));
    muta_status status = work->heard ? muta_study_lay(all, work->heard) : muta_study_lay(all, NULL);
    if (status == MUTA_OK)
        status = muta_passage_list_chords(all, &work->arena, &work->chords, &work->chord_count);
    muta_passage_free(all);
    return status;
}

/* What the region reaches is the tune now, whatever is heard; what goes with it stays as well. */
static void name_tune(const muta_region *region, muta_passage *passage, bool *kept)
{
    muta_weave *const work = &passage->work;
    const muta_texture texture = muta_passage_work(passage);

    for (size_t i = 0; i < work->lines.count; i++) {
        const muta_line *const line = &work->lines.at[i];
        const muta_part *const part = &passage->score->parts[line->part];
        for (uint32_t j = line->event; j < line->event + line->event_count; j++) {
            const muta_event *const event = &work->events.at[j];
            const bool goes_along = muta_goes_along(&texture, event);
            for (uint32_t k = event->tone; k < event->tone + event->tone_count; k++) {
                muta_tone *const tone = &work->tones.at[k];
                const bool is_in =
                    tone->source != MUTA_NO_SOURCE &&
                    muta_region_holds(region, line->part, &part->notes.at[tone->source]);
                tone->is_tune = is_in && !goes_along;
                kept[j] = kept[j] || is_in;
            }
        }
    }
}

static muta_status put_on_chords(const muta_work *work, const muta_region *region, muta_passage *in,
                                 muta_passage *out, muta_diags *diags)
{
    bool *const kept = calloc(muta_passage_work(in).event_count + 1, sizeof *kept);

    if (!kept)
        return MUTA_E_MEMORY;
    const muta_call call = {.in = in, .out = out, .kept = kept, .pick = 1, .diags = diags};
    name_tune(region, in, kept);
    muta_status status = muta_passage_set_chords(in, work->chords, work->chord_count);
    if (status == MUTA_OK)
        status = muta_harmonise_anew(&call);
    if (status == MUTA_OK)
        status = muta_passage_settle(out);
    if (status == MUTA_OK)
        status = muta_keep(in, kept, out);
    free(kept);
    return status;
}

muta_status muta_accompany(const muta_work *work, const muta_region *region, muta_score *score,
                           muta_outcome *outcome, muta_diags *diags)
{
    muta_change change = {0};
    muta_passage *in;
    muta_passage *out = NULL;

    if (work->chord_count == 0)
        return MUTA_OK;
    MUTA_TRY(lift_all(score, region, &in, diags));
    muta_status status = muta_study_lay(in, NULL);
    if (status == MUTA_OK)
        status = muta_passage_new_like(in, &out);
    if (status == MUTA_OK)
        status = put_on_chords(work, region, in, out, diags);
    if (status == MUTA_OK)
        status = muta_passages_splice((const muta_passage *const *)&out, 1, score, &change, diags);
    outcome->tones_followed += change.tones_changed;
    muta_passage_free(out);
    muta_passage_free(in);
    return status;
}
