/*
 * harmony_laws.c: what the passes of harmony keep: the tune untouched to the note under other
 * chords and other figures, all that sounds under a pedal, the bass in every round of a ground; and
 * that no stem gets the same tone twice.
 */
#include "matrix.h"
#include "mutanza/study.h"
#include <stdio.h>
#include <stdlib.h>

static struct {
    size_t laws;
    size_t tones;
} seen;

/* Tones by id, for as many as there are. */
static const muta_tone **index_tones(const muta_passage *passage)
{
    const muta_tone **const at =
        (const muta_tone **)calloc(passage->next_id + 2, sizeof(const muta_tone *));

    for (size_t i = 0; at && i < passage->work.tones.count; i++)
        at[passage->work.tones.at[i].id] = &passage->work.tones.at[i];
    return at;
}

static bool is_same(const muta_passage *theme, const muta_tone *tone, const muta_passage *varied,
                    const muta_tone *is)
{
    return is && muta_pitch_is_equal(tone->pitch, is->pitch) &&
           muta_fraction_compare(tone->duration, is->duration) == 0 &&
           muta_fraction_compare(theme->work.events.at[tone->event].onset,
                                 varied->work.events.at[is->event].onset) == 0;
}

/* Which tones a pass must leave alone. */
typedef bool keeps(const muta_passage *theme, const muta_tone *tone);

static bool of_tune(const muta_passage *theme, const muta_tone *tone)
{
    (void)theme;
    return tone->is_tune;
}

static bool of_tune_line(const muta_passage *theme, const muta_tone *tone)
{
    return theme->work.lines.at[tone->line].is_tune;
}

static bool of_all(const muta_passage *theme, const muta_tone *tone)
{
    (void)theme;
    (void)tone;
    return true;
}

static const struct {
    const char *line;
    keeps *kept;
} laws[] = {
    {"reharmonise", of_tune},
    {"reharmonise stray=1 palette=extended", of_tune},
    {"realise as=broken", of_tune_line},
    {"chords", of_all},
    {"pedal strike=beat", of_all},
};

/* How often a tone is twice on one stem. */
static size_t count_twins(const muta_passage *passage)
{
    const muta_tone *const tones = passage->work.tones.at;
    size_t count = 0;

    for (size_t i = 0; i < passage->work.events.count; i++) {
        const muta_event *const event = &passage->work.events.at[i];
        const uint32_t end = event->tone + event->tone_count;
        for (uint32_t low = event->tone; low < end; low++)
            for (uint32_t high = low + 1; high < end; high++)
                count += muta_pitch_sound(tones[low].pitch) == muta_pitch_sound(tones[high].pitch);
    }
    return count;
}

static void check_kept(const struct subject *subject, const muta_passage *theme, size_t nth)
{
    muta_passage *const varied = vary(theme, laws[nth].line);
    const muta_tone **const now = varied ? index_tones(varied) : NULL;
    size_t broken = 0;

    for (size_t i = 0; now && i < theme->work.tones.count; i++) {
        const muta_tone *const tone = &theme->work.tones.at[i];
        if (!laws[nth].kept(theme, tone))
            continue;
        seen.tones++;
        broken += !is_same(theme, tone, varied, now[tone->id]);
    }
    seen.laws++;
    check(subject, varied && broken == 0, "%s does not keep %zu tones", laws[nth].line, broken);
    check(subject, varied && count_twins(varied) <= count_twins(theme),
          "%s puts a tone twice on one stem", laws[nth].line);
    free((void *)now);
    muta_passage_free(varied);
}

/* Each tone of the bass comes once a round, at its pitch; a pick-up may give way to the end of the
 * round before. */
static void check_ground(const struct subject *subject, const muta_passage *theme)
{
    enum {
        LAPS = 3
    };
    muta_passage *const varied = vary(theme, "ground times=3");
    size_t *const counts = calloc(theme->next_id + 2, sizeof *counts);
    size_t broken = 0;
    muta_beat beat;

    muta_passage_beat_at(theme, MUTA_ZERO, &beat);
    for (size_t i = 0; varied && counts && i < varied->work.tones.count; i++) {
        const muta_tone *const tone = &varied->work.tones.at[i];
        counts[tone->origin <= theme->next_id ? tone->origin : 0] +=
            tone->is_bass && !tone->is_pitch_changed;
    }
    for (size_t i = 0; varied && counts && i < theme->work.tones.count; i++) {
        const muta_tone *const tone = &theme->work.tones.at[i];
        const bool in_pickup =
            beat.bar.top < 0 &&
            muta_fraction_compare(theme->work.events.at[tone->event].onset, beat.end) < 0;
        if (!tone->is_bass)
            continue;
        seen.tones++;
        broken += counts[tone->id] != LAPS && !(in_pickup && counts[tone->id] > 0);
    }
    seen.laws++;
    check(subject, varied && broken == 0, "ground does not keep %zu tones of the bass", broken);
    free(counts);
    muta_passage_free(varied);
}

void check_harmony_laws(const struct subject *subject, const muta_score *score)
{
    muta_passage *const theme = lift(score, NULL);

    if (theme && muta_study_lay(theme, NULL) == MUTA_OK && theme->chord_count > 0) {
        for (size_t i = 0; i < sizeof laws / sizeof *laws; i++)
            check_kept(subject, theme, i);
        check_ground(subject, theme);
    }
    muta_passage_free(theme);
}

void print_harmony_laws(void)
{
    printf("laws of harmony: %zu, over %zu tones\n", seen.laws, seen.tones);
}
