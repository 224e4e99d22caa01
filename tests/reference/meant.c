/*
 * meant.c FOLDER [all]: writes each chosen score into the folder as it came (.before) and varied (a
 * fourth higher, .slower, .backwards), and beside each the tones that were meant, a line each:
 * onset, duration (in quarters), sound (semitones above C-1, as in MIDI). Grace, cue, percussion,
 * tremolo and microtones are left out and counted.
 */
#include "musicxml/build.h"
#include "score/texture.h"
#include "support/corpus.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* In millionths, whatever the locale makes of a point. */
static void print_quarters(muta_fraction time, FILE *to)
{
    enum {
        MILLION = 1000000
    };
    const int64_t parts = (time.top * MILLION + time.bottom / 2) / time.bottom;

    (void)fprintf(to, "%" PRId64 ".%06" PRId64 " ", parts / MILLION, parts % MILLION);
}

static size_t left_out;

/* The tones of the whole score, as the passage has them. */
static void print_tones(const muta_passage *passage, FILE *to)
{
    const muta_texture work = muta_passage_work(passage);

    for (size_t i = 0; i < work.event_count; i++)
        for (uint32_t j = 0; j < work.events[i].tone_count; j++) {
            const muta_event *const event = &work.events[i];
            const muta_tone *const tone = &work.tones[event->tone + j];
            const int32_t sound = muta_pitch_sound(tone->pitch);
            if (event->is_grace || event->is_cue || tone->is_fixed || sound % MUTA_SEMITONE != 0) {
                left_out++;
                continue;
            }
            print_quarters(event->onset, to);
            print_quarters(tone->duration, to);
            (void)fprintf(to, "%d\n", sound / MUTA_SEMITONE + 12);
        }
}

static muta_status vary(const char *path, const char *line, const char *folder, const char *kind)
{
    char name[4096];
    muta_score *score = NULL;
    muta_chain *chain = NULL;
    muta_region *region = NULL;
    muta_passage *passage = NULL;
    muta_status status = muta_score_read(path, &score, NULL);

    (void)snprintf(name, sizeof name, "%s/%s.before", folder, corpus_name(path));
    if (status == MUTA_OK && !*kind)
        status = muta_score_write(score, name, false, NULL, NULL);
    if (status == MUTA_OK)
        status = muta_chain_parse(line, &chain, NULL);
    if (status == MUTA_OK)
        status = muta_chain_run(chain, score, 1, NULL, NULL);
    if (status == MUTA_OK)
        status = muta_region_parse(score, NULL, &region, NULL);
    if (status == MUTA_OK)
        status = muta_passage_lift(score, region, &passage, NULL);
    (void)snprintf(name, sizeof name, "%s/%s%s.musicxml", folder, corpus_name(path), kind);
    if (status == MUTA_OK)
        status = muta_score_write(score, name, false, NULL, NULL);
    if (status == MUTA_OK) {
        (void)snprintf(name, sizeof name, "%s/%s%s.tones", folder, corpus_name(path), kind);
        FILE *const to = fopen(name, "w");
        if (to) {
            print_tones(passage, to);
            (void)fclose(to);
        }
    }
    muta_passage_free(passage);
    muta_region_free(region);
    muta_chain_free(chain);
    muta_score_free(score);
    return status;
}

int main(int count, char **arguments)
{
    corpus scores = corpus_find(count > 2 && strcmp(arguments[2], "all") == 0);
    size_t refused = 0;

    for (size_t i = 0; i < scores.count && count > 1; i++)
        refused += vary(scores.paths[i], "transpose", arguments[1], "") != MUTA_OK;
    /* What moves time is played too; what is refused is counted by the matrix. */
    for (size_t i = 0; i < scores.count && count > 1; i++) {
        (void)!vary(scores.paths[i], "augment by=3/2", arguments[1], ".slower");
        (void)!vary(scores.paths[i], "retrograde where=*", arguments[1], ".backwards");
    }
    printf("%zu scores varied, %zu refused, %zu tones left out\n", scores.count - refused, refused,
           left_out);
    corpus_free(&scores);
    return 0;
}
