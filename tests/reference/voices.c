/*
 * voices.c SCORE: reads chords from standard input, a line each: onset (in quarters, as a
 * fraction), root and tonic (places on the line of fifths), kind (MusicXML's word). Prints the
 * voices that sound at each of them, the lowest first, in semitones above C-1 as in MIDI, and each
 * breach of the rules of part-writing on the way from one to the next.
 */
#include "base/text.h"
#include "passes/parts_heard.h"
#include "support/test.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    CHORDS = 4096
};

static muta_harmony_slot slots[CHORDS];
static muta_fraction onsets[CHORDS];
static muta_voiced voiced[CHORDS];

/* A whole number with its sign. */
static bool read_place(const char *word, int32_t *place)
{
    int64_t number = 0;
    const bool minus = word && *word == '-';
    const char *const end = word ? muta_text_count(word + minus, &number) : NULL;

    *place = (int32_t)(minus ? -number : number);
    return end && !*end;
}

static bool read_chord(size_t nth)
{
    char line[256];
    muta_chord_kind kind;
    int32_t root;
    int32_t tonic;

    if (!fgets(line, sizeof line, stdin))
        return false;
    char *rest = line;
    const char *const onset = strtok_r(rest, " \n", &rest);
    if (!onset || muta_fraction_parse(onset, &onsets[nth]) != MUTA_OK ||
        !read_place(strtok_r(rest, " \n", &rest), &root) ||
        !read_place(strtok_r(rest, " \n", &rest), &tonic))
        return false;
    const char *const name = strtok_r(rest, " \n", &rest);
    if (!name || !muta_chord_find(name, &kind))
        exit(2);
    slots[nth] = (muta_harmony_slot){.value = {.root = root, .kind = kind},
                                     .leading = muta_chord_leading(kind, root, tonic)};
    return true;
}

static void print(size_t nth)
{
    char text[MUTA_FRACTION_TEXT];

    printf("voices %s", muta_fraction_print(onsets[nth], text));
    for (uint8_t i = 0; i < voiced[nth].count; i++)
        printf(" %d", voiced[nth].semitones[i] + 12);
    printf("\n");
    if (nth == 0 || voiced[nth - 1].count != voiced[nth].count)
        return;
    printf("pair\n");
    for (size_t rule = 0; rule < MUTA_RULES; rule++) {
        const muta_rule_row *const row = &muta_rule_rows[rule];
        const size_t count = row->is_fault ? row->count(&voiced[nth - 1], &voiced[nth]) : 0;
        for (size_t i = 0; i < count; i++)
            printf("fault %s at %s\n", row->name, text);
    }
}

int main(int count, char **words)
{
    muta_score *score = NULL;
    muta_region *region = NULL;
    muta_passage *passage = NULL;
    size_t chords = 0;

    if (count != 2 || muta_score_read(words[1], &score, NULL) != MUTA_OK ||
        muta_region_parse(score, NULL, &region, NULL) != MUTA_OK ||
        muta_passage_lift(score, region, &passage, NULL) != MUTA_OK)
        return 2;
    while (chords < CHORDS && read_chord(chords))
        chords++;
    muta_parts_hear(passage, slots, onsets, chords, voiced);
    for (size_t i = 0; i < chords; i++)
        print(i);
    muta_passage_free(passage);
    muta_region_free(region);
    muta_score_free(score);
    return 0;
}
