/* consumer.c IN OUT: a guest's program, in C and in C++: reads a score, lifts its tune, moves it up
 * a fifth, puts it back, studies what came of it and writes it. It sees what is installed alone. */
#include <mutanza/mutanza.h>
#include <stdio.h>

static muta_status move(muta_score *score, const muta_region *region)
{
    const muta_interval fifth = {4, 7 * MUTA_SEMITONE};
    muta_passage *passage;

    MUTA_TRY(muta_passage_lift(score, region, &passage, NULL));
    muta_status status = MUTA_OK;
    for (size_t i = 0; status == MUTA_OK && i < muta_passage_work(passage).tone_count; i++)
        status = muta_passage_move(passage, &muta_passage_tones(passage)[i], fifth, 1, MUTA_REAL);
    const muta_passage *const passages[] = {passage};
    if (status == MUTA_OK)
        status = muta_passages_splice(passages, 1, score, NULL, NULL);
    muta_passage_free(passage);
    return status;
}

static muta_status say(const muta_score *score)
{
    char key[MUTA_KEY_TEXT] = "?";
    muta_key home;
    muta_study *study;

    MUTA_TRY(muta_study_new(score, NULL, &study, NULL));
    if (muta_study_home(study, &home))
        muta_key_print(home, key);
    printf("%s: %zu chords, %zu phrases, %zu tones in the tune\n", key,
           muta_study_chord_count(study), muta_study_phrase_count(study),
           muta_study_tone_count(study));
    muta_study_free(study);
    return MUTA_OK;
}

int main(int count, char **arguments)
{
    muta_score *score = NULL;
    muta_region *region = NULL;

    muta_status status = count == 3 ? muta_score_read(arguments[1], &score, NULL) : MUTA_E_USAGE;
    if (status == MUTA_OK)
        status = muta_study_default(score, MUTA_TUNE, &region);
    if (status == MUTA_OK)
        status = move(score, region);
    if (status == MUTA_OK)
        status = say(score);
    if (status == MUTA_OK)
        status = muta_score_write(score, arguments[2], false, NULL, NULL);
    muta_region_free(region);
    muta_score_free(score);
    return status == MUTA_OK ? 0 : 1;
}
