/*
 * accompany.c: where a pass gave the tune other pitches, the others go with it: their figures are
 * put on chords that fit the tune as it is now. The chords that were heard before it changed stay
 * where they still do.
 */
#include "passes/run.h"
#include <stdlib.h>
#include <string.h>

bool muta_link_is_accompanied(const muta_chain *chain, const muta_link *link)
{
    const char *const where = chain->links.at[0].common.where;

    if (!(link->pass->effect & MUTA_BENDS_TUNE))
        return false;
    return link->common.accompaniment == MUTA_FOLLOW ||
           (link->common.accompaniment == MUTA_FOLLOW_TUNE &&
            (!where || strcmp(where, "tune") == 0));
}

bool muta_chain_is_accompanied(const muta_chain *chain)
{
    for (size_t i = 0; i < chain->links.count; i++)
        if (muta_link_is_accompanied(chain, &chain->links.at[i]))
            return true;
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

/* ---- the tune ---- */

static bool is_in(const muta_region *region, const muta_passage *passage, const muta_line *line,
                  const muta_tone *tone)
{
    return tone->source != MUTA_NO_SOURCE &&
           muta_region_holds(region, line->part,
                             &passage->score->parts[line->part].notes.at[tone->source]);
}

/* What the region reaches is the tune, whatever is heard; what goes with it stays as well.
 * @param kept  by event; or NULL */
static void name_tune(const muta_region *region, muta_passage *passage, bool *kept)
{
    muta_weave *const work = &passage->work;
    const muta_texture texture = muta_passage_work(passage);

    for (size_t i = 0; i < work->lines.count; i++) {
        const muta_line *const line = &work->lines.at[i];
        for (uint32_t j = line->event; j < line->event + line->event_count; j++) {
            const muta_event *const event = &work->events.at[j];
            const bool goes_along = muta_goes_along(&texture, event);
            for (uint32_t k = event->tone; k < event->tone + event->tone_count; k++) {
                muta_tone *const tone = &work->tones.at[k];
                const bool reaches = is_in(region, passage, line, tone);
                tone->is_tune = reaches && !goes_along;
                if (kept)
                    kept[j] = kept[j] || reaches;
            }
        }
    }
}

/* ---- what doubles the tune ---- */

/* The tone of an event that is the tune's own, from the top; NULL: none. */
static const muta_tone *doubling_in(const muta_texture *work, const muta_event *event,
                                    const muta_tone **tune)
{
    *tune = event->is_grace || event->tone_count == 0 ? NULL : muta_tune_at(work, event->onset);
    for (uint32_t i = event->tone + event->tone_count; *tune && i > event->tone; i--) {
        const muta_tone *const tone = &work->tones[i - 1];
        if (tone->is_fixed || tone->is_tune)
            return NULL;
        if (tone->pitch.alter == (*tune)->pitch.alter &&
            (tone->pitch.place - (*tune)->pitch.place) % 7 == 0)
            return tone;
    }
    return NULL;
}

/* Of a line what doubles the tune for some tones on end, in one octave: one alone may be chance. */
static muta_status note_doublings(muta_work *work, const muta_texture *texture,
                                  const muta_line *line)
{
    enum {
        ON_END = 4
    };
    const uint32_t end = line->event + line->event_count;
    size_t run = 0;

    for (uint32_t i = line->event; i <= end; i++) {
        const muta_tone *tune = NULL;
        const muta_tone *const tone =
            i < end ? doubling_in(texture, &texture->events[i], &tune) : NULL;
        const int32_t octaves = tone ? (tone->pitch.place - tune->pitch.place) / 7 : 0;
        const muta_doubling *const last = work->doublings.at + work->doublings.count;
        if (run > 0 && (!tone || last[-1].octaves != octaves)) {
            work->doublings.count -= run < ON_END ? run : 0;
            run = 0;
        }
        if (!tone)
            continue;
        muta_doubling *const added = MUTA_PUSH(&work->arena, &work->doublings);
        if (!added)
            return MUTA_E_MEMORY;
        *added = (muta_doubling){line->part, line->voice, texture->events[i].onset, tone->pitch,
                                 octaves};
        run++;
    }
    return MUTA_OK;
}

/* Lets what doubled the tune double it as it is now. */
static void double_again(const muta_work *work, muta_passage *passage)
{
    const muta_texture texture = muta_passage_work(passage);

    for (size_t i = 0; i < work->doublings.count; i++) {
        const muta_doubling *const was = &work->doublings.at[i];
        const muta_tone *const tune = muta_tune_at(&texture, was->onset);
        for (size_t j = 0; tune && j < texture.line_count; j++) {
            const muta_line *const line = &texture.lines[j];
            const uint32_t at = muta_line_first_from(texture.events, line, was->onset);
            if (line->part != was->part || line->voice != was->voice ||
                at == line->event + line->event_count ||
                muta_fraction_compare(texture.events[at].onset, was->onset) != 0)
                continue;
            for (uint32_t k = 0; k < texture.events[at].tone_count; k++) {
                muta_tone *const tone = &muta_passage_tones(passage)[texture.events[at].tone + k];
                muta_pitch to = tune->pitch;
                to.place += 7 * was->octaves;
                if (muta_pitch_is_equal(tone->pitch, was->pitch))
                    muta_passage_set_pitch(passage, tone, to);
            }
        }
    }
}

/* ---- before and behind ---- */

muta_status muta_accompany_note(muta_work *work, const muta_region *region, const muta_score *score,
                                muta_diags *diags)
{
    muta_passage *all;

    /* Bars that are put in or taken out have no chords that could stay. */
    for (size_t i = 0; i < work->varied.count && i < work->lifted.count; i++)
        if (muta_fraction_compare(muta_passage_length(work->varied.at[i]),
                                  muta_passage_length(work->lifted.at[i])) != 0)
            return MUTA_OK;
    work->bar_count = score->bar_count;
    MUTA_TRY(lift_all(score, region, &all, diags));
    muta_status status = work->heard ? muta_study_lay(all, work->heard) : muta_study_lay(all, NULL);
    if (status == MUTA_OK)
        status = muta_passage_list_chords(all, &work->arena, &work->chords, &work->chord_count);
    name_tune(region, all, NULL);
    const muta_texture texture = muta_passage_work(all);
    for (size_t i = 0; status == MUTA_OK && i < texture.line_count; i++)
        status = note_doublings(work, &texture, &texture.lines[i]);
    muta_passage_free(all);
    return status;
}

static muta_status put_on_chords(const muta_work *work, const muta_region *region, muta_passage *in,
                                 muta_passage *out, muta_diags *diags)
{
    bool *const kept = calloc(muta_passage_work(in).event_count + 1, sizeof *kept);

    if (!kept)
        return MUTA_E_MEMORY;
    const muta_call call = {.in = in, .out = out, .kept = kept, .pick = 1, .diags = diags};
    name_tune(region, in, kept);
    double_again(work, in);
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

    /* In another number of bars the region is no longer where it was. */
    if (work->chord_count == 0 || score->bar_count != work->bar_count)
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
