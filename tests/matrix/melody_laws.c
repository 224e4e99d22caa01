/*
 * melody_laws.c: what the passes of melody, mode and metre keep, as their rows say it: in memory,
 * on the tune of every score.
 */
#include "matrix.h"
#include "mutanza/study.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct {
    size_t laws;
    size_t tones;
} seen;

static bool same_pitch(const muta_tone *a, const muta_tone *b)
{
    return a->pitch.place == b->pitch.place && a->pitch.alter == b->pitch.alter;
}

static const muta_tone *top(const muta_weave *work, const muta_event *event)
{
    return &work->tones.at[event->tone + event->tone_count - 1];
}

/* A tone of a line that sounds with this pitch, from this tone, and begins in [from, to). */
static bool sounds(const muta_weave *work, const muta_tone *tone, muta_fraction from,
                   muta_fraction to)
{
    for (size_t i = 0; i < work->events.count; i++) {
        const muta_event *const event = &work->events.at[i];
        if (event->is_grace || muta_fraction_compare(event->onset, from) < 0 ||
            muta_fraction_compare(event->onset, to) >= 0)
            continue;
        for (uint32_t j = 0; j < event->tone_count; j++)
            if (work->tones.at[event->tone + j].origin == tone->origin &&
                same_pitch(&work->tones.at[event->tone + j], tone))
                return true;
    }
    return false;
}

static muta_fraction end_of(const muta_event *event)
{
    return muta_fraction_add(event->onset, event->duration);
}

/* The same event in what a pass gave back; NULL when there is none. */
static const muta_event *same_event(const muta_weave *work, const muta_event *event)
{
    for (size_t i = 0; i < work->events.count; i++)
        if (!work->events.at[i].is_grace &&
            muta_fraction_compare(work->events.at[i].onset, event->onset) == 0 &&
            muta_fraction_compare(work->events.at[i].duration, event->duration) == 0 &&
            work->events.at[i].written.source == event->written.source)
            return &work->events.at[i];
    return NULL;
}

/* Which events of the theme a law speaks of. */
typedef bool law(const muta_passage *theme, const muta_passage *varied, const muta_event *event);

/* Each tone is heard within its own time; what closes a phrase is as it was. */
static bool keeps_tones(const muta_passage *theme, const muta_passage *varied,
                        const muta_event *event)
{
    if (event->closes)
        return same_event(&varied->work, event) != NULL;
    return sounds(&varied->work, top(&theme->work, event), event->onset, end_of(event));
}

/* Chord tones stand where they stood; what closes a phrase is as it was. */
static bool keeps_goals(const muta_passage *theme, const muta_passage *varied,
                        const muta_event *event)
{
    const muta_tone *const tone = top(&theme->work, event);
    const muta_fraction just_behind = muta_fraction_add(event->onset, muta_fraction_of(1, 1024));

    if (event->closes && !same_event(&varied->work, event))
        return false;
    return event->depth == 0 || sounds(&varied->work, tone, event->onset, just_behind);
}

/* The skeleton is there, each of its tones in the time that it had and no shorter; what closes a
 * phrase is as it was. */
static bool keeps_skeleton(const muta_passage *theme, const muta_passage *varied,
                           const muta_event *event)
{
    if (event->closes && !same_event(&varied->work, event))
        return false;
    if (event->depth == 0)
        return true;
    for (size_t i = 0; i < varied->work.events.count; i++) {
        const muta_event *const of = &varied->work.events.at[i];
        if (of->written.source == event->written.source && !of->is_grace &&
            muta_fraction_compare(of->onset, event->onset) <= 0 &&
            muta_fraction_compare(end_of(of), end_of(event)) >= 0)
            return same_pitch(top(&varied->work, of), top(&theme->work, event));
    }
    return false;
}

/* Nothing is displaced. */
static bool keeps_all(const muta_passage *theme, const muta_passage *varied,
                      const muta_event *event)
{
    const muta_event *const of = same_event(&varied->work, event);

    return of && same_pitch(top(&theme->work, event), top(&varied->work, of));
}

/* The rhythm stays, and no tone changes its letter. */
static bool keeps_degrees(const muta_passage *theme, const muta_passage *varied,
                          const muta_event *event)
{
    const muta_event *const of = same_event(&varied->work, event);

    return of && top(&theme->work, event)->pitch.place == top(&varied->work, of)->pitch.place;
}

static const struct {
    const char *line;
    law *holds;
} laws[] = {
    {"embellish", keeps_tones},
    {"embellish amount=1 figures=turn,trill,mordent,appoggiatura,slide,escape", keeps_tones},
    {"divide", keeps_goals},
    {"divide notes=3 figure=broken", keeps_goals},
    {"simplify", keeps_skeleton},
    {"grace", keeps_all},
    {"mode keys=stay", keeps_degrees},
    {"mode to=dorian keys=stay", keeps_degrees},
};

static bool is_plain(const muta_passage *theme, const muta_event *event)
{
    return !event->is_grace && !event->is_cue && !theme->work.tones.at[event->tone].is_fixed;
}

static void check_law(const struct subject *subject, const muta_passage *theme, size_t nth)
{
    muta_passage *const varied = vary(theme, laws[nth].line);
    size_t broken = 0;

    check(subject, varied, "%s is refused", laws[nth].line);
    if (!varied)
        return;
    for (size_t i = 0; i < theme->work.events.count; i++) {
        const muta_event *const event = &theme->work.events.at[i];
        if (!is_plain(theme, event))
            continue;
        seen.tones++;
        broken += !laws[nth].holds(theme, varied, event);
    }
    seen.laws++;
    check(subject, broken == 0, "%s does not keep %zu tones", laws[nth].line, broken);
    check(subject, muta_fraction_compare(theme->length, varied->length) == 0,
          "%s does not keep the length", laws[nth].line);
    muta_passage_free(varied);
}

/* The tone of this id; NULL when there is none. */
static const muta_tone *tone_of(const muta_weave *work, uint32_t id)
{
    for (size_t i = 0; i < work->tones.count; i++)
        if (work->tones.at[i].id == id)
            return &work->tones.at[i];
    return NULL;
}

/* Every tone is there with its pitch, as late after the one before it in its line as ever. */
static size_t count_lost(const muta_weave *theme, const muta_weave *varied)
{
    muta_fraction before = MUTA_ZERO;
    size_t lost = 0;

    for (size_t i = 0; i < theme->events.count; i++) {
        const muta_event *const event = &theme->events.at[i];
        const muta_tone *const tone = &theme->tones.at[event->tone];
        const muta_tone *const is = tone_of(varied, tone->id);
        if (!is || !same_pitch(tone, is)) {
            lost++;
            continue;
        }
        const muta_fraction onset = varied->events.at[is->event].onset;
        if (i > 0 && theme->tones.at[event[-1].tone].line == tone->line)
            lost += (muta_fraction_compare(event[-1].onset, event->onset) < 0) !=
                    (muta_fraction_compare(before, onset) < 0);
        before = onset;
    }
    return lost;
}

/* Another metre keeps the row of tones. */
static void check_metre(const struct subject *subject, const muta_score *score)
{
    muta_passage *const theme = lift(score, NULL);
    muta_passage *const varied = theme ? vary(theme, "remetre") : NULL;

    if (varied) {
        const size_t lost = count_lost(&theme->work, &varied->work);
        check(subject, lost == 0, "remetre does not keep %zu tones in their row", lost);
        seen.laws++;
    }
    muta_passage_free(varied);
    muta_passage_free(theme);
}

void check_melody_laws(const struct subject *subject, const muta_score *score)
{
    muta_region *region = NULL;
    muta_passage *theme = NULL;

    if (muta_study_default(score, MUTA_TUNE, &region) == MUTA_OK &&
        muta_passage_lift(score, region, &theme, NULL) == MUTA_OK &&
        muta_study_modes(theme, NULL) == MUTA_OK && muta_study_lay(theme, NULL) == MUTA_OK)
        for (size_t i = 0; i < sizeof laws / sizeof *laws; i++)
            check_law(subject, theme, i);
    muta_region_free(region);
    muta_passage_free(theme);
    check_metre(subject, score);
}

void print_melody_laws(void)
{
    printf("laws of melody, mode and metre: %zu, over %zu tones\n", seen.laws, seen.tones);
}
