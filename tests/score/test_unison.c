/*
 * test_unison.c: a concert-pitch part and a transposing one in unison stay in unison, whatever the
 * interval, the key and the transposition. Source: common practice.
 */
#include "mutanza/mutanza.h"
#include "support/test.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct {
    const char *name;
    int diatonic, chromatic, octaves;
} instruments[] = {
    /* Source: Rimsky-Korsakov 1913; what is added to the written pitch to get the sound. */
    {"Clarinet in Bb", -1, -2, 0}, {"Horn in F", -4, -7, 0},      {"Clarinet in Eb", 2, 3, 0},
    {"Clarinet in A", -2, -3, 0},  {"Alto saxophone", -5, -9, 0}, {"Double bass", 0, 0, -1},
    {"Bass clarinet", -1, -2, -1},
};

static const char *const tune[] = {"G4", "F#4", "Bb4", "A4", "C#5", "D5", "Eb5", "G4"};

static void put_part(FILE *to, const char *id, int32_t fifths, size_t instrument, bool transposes)
{
    const muta_interval back = {
        -(instruments[instrument].diatonic + instruments[instrument].octaves * 7),
        -(instruments[instrument].chromatic + instruments[instrument].octaves * 12) *
            MUTA_SEMITONE};

    (void)fprintf(to,
                  "<part id=\"%s\"><measure number=\"1\"><attributes><divisions>1</divisions><key>"
                  "<fifths>%d</fifths></key>",
                  id, transposes ? fifths + muta_interval_fifths(back) : fifths);
    if (transposes)
        (void)fprintf(to,
                      "<transpose><diatonic>%d</diatonic><chromatic>%d</chromatic>"
                      "<octave-change>%d</octave-change></transpose>",
                      instruments[instrument].diatonic, instruments[instrument].chromatic,
                      instruments[instrument].octaves);
    (void)fputs("</attributes>", to);
    for (size_t i = 0; i < MUTA_LENGTH(tune); i++) {
        muta_pitch pitch;
        assert_int_equal(muta_pitch_parse(tune[i], &pitch), MUTA_OK);
        if (transposes)
            pitch = muta_pitch_add(pitch, back);
        (void)fprintf(to,
                      "<note><pitch><step>%c</step><alter>%d</alter><octave>%d</octave></pitch>"
                      "<duration>1</duration><type>quarter</type></note>",
                      "CDEFGAB"[muta_pitch_step(pitch)], pitch.alter / MUTA_SEMITONE,
                      muta_pitch_octave(pitch));
    }
    (void)fputs("</measure></part>", to);
}

static muta_score *unison(size_t instrument, int32_t fifths)
{
    char *text = NULL;
    size_t length;
    muta_score *score;
    FILE *const to = open_memstream(&text, &length);

    (void)fputs("<score-partwise><part-list><score-part id=\"A\"><part-name>Flute</part-name>"
                "</score-part><score-part id=\"B\"><part-name>Other</part-name></score-part>"
                "</part-list>",
                to);
    put_part(to, "A", fifths, instrument, false);
    put_part(to, "B", fifths, instrument, true);
    (void)fputs("</score-partwise>", to);
    (void)fclose(to);
    assert_int_equal(muta_score_read_bytes(text, length, &score, NULL), MUTA_OK);
    free(text);
    return score;
}

static void check_unison(const muta_score *score)
{
    muta_region *region;
    muta_passage *passage;

    assert_int_equal(muta_region_parse(score, "*", &region, NULL), MUTA_OK);
    assert_int_equal(muta_passage_lift(score, region, &passage, NULL), MUTA_OK);
    const muta_texture work = muta_passage_work(passage);
    const size_t half = MUTA_LENGTH(tune);
    assert_int_equal(work.tone_count, 2 * half);
    for (size_t i = 0; i < half; i++)
        assert_int_equal(muta_pitch_sound(work.tones[i].pitch),
                         muta_pitch_sound(work.tones[half + i].pitch));
    muta_passage_free(passage);
    muta_region_free(region);
}

static void stays_in_unison(void **state)
{
    static const char *const lines[] = {"transpose by=M2", "transpose by=A4", "transpose by=-m3",
                                        "transpose to=Db", "transpose by=P8", "transpose by=m2"};

    (void)state;
    for (size_t instrument = 0; instrument < MUTA_LENGTH(instruments); instrument++)
        for (int32_t fifths = -4; fifths <= 4; fifths++)
            for (size_t i = 0; i < MUTA_LENGTH(lines); i++) {
                muta_chain *chain;
                muta_score *const score = unison(instrument, fifths);
                check_unison(score);
                assert_int_equal(muta_chain_parse(lines[i], &chain, NULL), MUTA_OK);
                assert_int_equal(muta_chain_run(chain, score, 1, NULL, NULL), MUTA_OK);
                check_unison(score);
                muta_chain_free(chain);
                muta_score_free(score);
            }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(stays_in_unison)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
