/* keep.c: tones that a pass is asked to leave as they are. */
#include "base/text.h"
#include "base/vec.h"
#include "mutanza/study.h"
#include "passes/pass.h"
#include <stdlib.h>
#include <string.h>

static const char *const kept_names[] = {"first", "last", "cadence", "accented", "longest", NULL};

enum {
    FIRST,
    LAST,
    CADENCE,
    ACCENTED,
    LONGEST
};

/* Whether the nth event of a line, of `count`, is one that is kept. @param study  for cadences */
static bool is_kept(const muta_passage *in, const muta_texture *work, const muta_line *line,
                    uint32_t nth, int which, const muta_study *study)
{
    const muta_event *const events = &work->events[line->event];
    muta_fraction longest = MUTA_ZERO;

    switch (which) {
    case FIRST:
        return nth == 0;
    case LAST:
        return nth + 1 == line->event_count;
    case CADENCE: /* the last tone and the one that leads to it: of each phrase, and of the line */
        return nth + 2 >= line->event_count ||
               (events[nth].written.source != MUTA_NO_SOURCE &&
                muta_study_closes(study, line->part, events[nth].written.source));
    case ACCENTED:
        return muta_passage_is_downbeat(in, events[nth].onset);
    default:
        for (uint32_t i = 0; i < line->event_count; i++)
            longest = muta_fraction_max(longest, events[i].duration);
        return muta_fraction_compare(events[nth].duration, longest) == 0;
    }
}

static const char *name_at(const void *names, size_t i)
{
    return ((const char *const *)names)[i];
}

/* Reads an address; a word that is none, and nearly one that names tones, is a slip. */
static muta_status read_address(const muta_score *score, const char *address, muta_region **region,
                                muta_diags *diags)
{
    const char *const nearest =
        muta_text_nearest(address, kept_names, MUTA_LENGTH(kept_names) - 1, name_at);

    if (muta_study_region(score, address, region, NULL) == MUTA_OK)
        return MUTA_OK;
    if (!nearest)
        return muta_study_region(score, address, region, diags);
    muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "keep=%.60s is not known; did you mean keep=%s?",
                  address, nearest);
    return MUTA_E_USAGE;
}

static muta_status find_in_address(const muta_passage *in, const char *address, bool *kept,
                                   muta_diags *diags)
{
    muta_region *region;

    MUTA_TRY(read_address(muta_passage_score(in), address, &region, diags));
    for (size_t i = 0; i < muta_passage_work(in).event_count; i++)
        kept[i] = muta_passage_is_in(in, i, region);
    muta_region_free(region);
    return MUTA_OK;
}

muta_status muta_keep_find(const muta_passage *in, const char *keep, bool *kept, muta_diags *diags)
{
    const muta_texture work = muta_passage_work(in);
    size_t count;
    const size_t which = muta_choice_find(kept_names, keep, &count);
    muta_study *study = NULL;

    if (which == count)
        return find_in_address(in, keep, kept, diags);
    if (which == CADENCE)
        MUTA_TRY(muta_study_new(muta_passage_score(in), NULL, &study, diags));
    for (size_t i = 0; i < work.line_count; i++)
        for (uint32_t j = 0; j < work.lines[i].event_count; j++)
            kept[work.lines[i].event + j] =
                is_kept(in, &work, &work.lines[i], j, (int)which, study);
    muta_study_free(study);
    return MUTA_OK;
}

/* Gives the tones of one event, which have kept their ids, their pitches back. */
static void restore(const muta_texture *work, const muta_event *event, muta_passage *out)
{
    muta_tone *const tones = muta_passage_tones(out);
    const size_t count = muta_passage_work(out).tone_count;

    for (uint32_t i = 0; i < event->tone_count; i++)
        for (size_t j = 0; j < count; j++)
            if (tones[j].id == work->tones[event->tone + i].id)
                muta_passage_set_pitch(out, &tones[j], work->tones[event->tone + i].pitch);
}

muta_status muta_keep(const muta_passage *in, const bool *kept, muta_passage *out)
{
    const muta_texture work = muta_passage_work(in);

    for (size_t i = 0; i < work.event_count; i++)
        if (kept[i])
            restore(&work, &work.events[i], out);
    return muta_passage_settle(out);
}
