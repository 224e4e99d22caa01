/*
 * test_hearing.c: the same music, written otherwise, is heard the same: transposed, in other
 * divisions, with its parts in another order, its ties split otherwise, out of a container.
 */
#include "musicxml/rewrite.h"
#include "study/study.h"
#include "support/corpus.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static struct {
    size_t passed;
    size_t failed;
    size_t laws[5];
} seen;

static muta_study *study_of(const muta_score *score)
{
    muta_study *study = NULL;

    return muta_study_new(score, NULL, &study, NULL) == MUTA_OK ? study : NULL;
}

static muta_score *read_again(const char *xml, size_t length)
{
    muta_score *score = NULL;

    return muta_score_read_bytes(xml, length, &score, NULL) == MUTA_OK ? score : NULL;
}

/* What is heard in two scores, one of them some fifths and semitones higher. */
static bool is_same(const muta_study *a, const muta_study *b, int32_t fifths)
{
    if (a->chords.count != b->chords.count || a->phrases.count != b->phrases.count)
        return false;
    for (size_t i = 0; i < a->chords.count; i++) {
        const muta_heard_chord *const one = &a->chords.at[i];
        const muta_heard_chord *const two = &b->chords.at[i];
        const int by = muta_fifths_class(fifths);
        if (muta_fraction_compare(muta_heard_time(&a->heard, one->from),
                                  muta_heard_time(&b->heard, two->from)) != 0 ||
            (muta_heard_root(one) + by) % MUTA_CLASSES != muta_heard_root(two) ||
            one->value.kind != two->value.kind || one->value.bass != two->value.bass ||
            (one->key % MUTA_CLASSES + by) % MUTA_CLASSES != two->key % MUTA_CLASSES ||
            one->key / MUTA_CLASSES != two->key / MUTA_CLASSES)
            return false;
    }
    for (size_t i = 0; i < a->phrases.count; i++)
        if (muta_fraction_compare(muta_heard_time(&a->heard, a->phrases.at[i].from),
                                  muta_heard_time(&b->heard, b->phrases.at[i].from)) != 0 ||
            a->phrases.at[i].cadence != b->phrases.at[i].cadence)
            return false;
    return true;
}

static void check(const char *path, const char *law, size_t nth, const muta_study *study,
                  const muta_score *score, int32_t fifths)
{
    muta_study *const other = score ? study_of(score) : NULL;
    const bool good = other && is_same(study, other, fifths);

    seen.laws[nth]++;
    seen.passed += good;
    seen.failed += !good;
    if (!good)
        printf("FAILED %s: %s is heard otherwise\n", corpus_name(path), law);
    muta_study_free(other);
}

/* All parts a whole tone up; where one was respelled it is not the same spelling any more. */
static void check_transposed(const char *path, const muta_study *study, const char *xml,
                             size_t length)
{
    muta_score *const score = read_again(xml, length);
    muta_chain *chain = NULL;
    bool respelled = false;

    if (score && muta_chain_parse("transpose by=M2", &chain, NULL) == MUTA_OK &&
        muta_chain_run(chain, score, 1, NULL, NULL) == MUTA_OK) {
        for (size_t i = 0; i < score->part_count; i++)
            for (size_t j = 0; j < score->parts[i].keys.count; j++)
                respelled = respelled || score->parts[i].keys.at[j].key.fifths !=
                                             study->score->parts[i].keys.at[j].key.fifths + 2;
        if (!respelled)
            check(path, "a whole tone higher", 0, study, score, 2);
    }
    muta_chain_free(chain);
    muta_score_free(score);
}

static void check_divisions(const char *path, const muta_study *study, const char *xml,
                            size_t length)
{
    muta_score *const score = read_again(xml, length);
    muta_status status = score ? MUTA_OK : MUTA_E_DATA;

    for (uint32_t i = 0; status == MUTA_OK && i < score->part_count; i++)
        status = muta_multiply_divisions(score, i, 3);
    if (status == MUTA_OK)
        status = muta_build_again(score);
    if (status == MUTA_OK)
        check(path, "in other divisions", 1, study, score, 0);
    muta_score_free(score);
}

/* Moves the first child of a name behind the last one. */
static void turn(muta_tree *tree, muta_node parent, muta_name name)
{
    muta_node first = 0;
    muta_node last = 0;

    for (muta_node child = muta_tree_first(tree, parent); child;
         child = muta_tree_next(tree, child))
        if (muta_tree_name(tree, child) == name) {
            first = first ? first : child;
            last = child;
        }
    if (first == last)
        return;
    muta_tree_remove(tree, parent, first);
    muta_tree_insert(tree, parent, last, first);
}

static void check_order(const char *path, const muta_study *study, const char *xml, size_t length)
{
    muta_score *const score = read_again(xml, length);

    if (score && !score->is_timewise && score->part_count > 1) {
        muta_tree *const tree = &score->tree;
        turn(tree, muta_tree_child(tree, tree->root, N_PART_LIST), N_SCORE_PART);
        turn(tree, tree->root, N_PART);
        if (muta_build_again(score) == MUTA_OK)
            check(path, "with its parts in another order", 2, study, score, 0);
    }
    muta_score_free(score);
}

/* Every bar is notated afresh, so that ties and values are ours. */
static void check_ties(const char *path, const muta_study *study, const char *xml, size_t length)
{
    muta_score *const score = read_again(xml, length);
    muta_region *region = NULL;
    muta_passage *passage = NULL;

    if (score && muta_region_parse(score, NULL, &region, NULL) == MUTA_OK &&
        muta_passage_lift(score, region, &passage, NULL) == MUTA_OK) {
        passage->is_forced = true;
        if (muta_passages_splice((const muta_passage *const[]){passage}, 1, score, NULL, NULL) ==
            MUTA_OK)
            check(path, "with its ties split otherwise", 3, study, score, 0);
    }
    muta_passage_free(passage);
    muta_region_free(region);
    muta_score_free(score);
}

static void check_container(const char *path, const muta_study *study)
{
    char name[] = "/tmp/hearing-XXXXXX";
    const int descriptor = mkstemp(name);
    muta_score *score = NULL;

    if (descriptor >= 0)
        (void)close(descriptor);
    if (muta_score_write(study->score, name, true, NULL, NULL) == MUTA_OK &&
        muta_score_read(name, &score, NULL) == MUTA_OK)
        check(path, "out of a container", 4, study, score, 0);
    (void)unlink(name);
    muta_score_free(score);
}

static void check_score(const char *path)
{
    size_t length;
    char *const xml = corpus_xml(path, &length);
    muta_score *const score = xml ? read_again(xml, length) : NULL;
    muta_study *const study = score ? study_of(score) : NULL;

    if (study && study->heard.tones.count > 0) {
        check_transposed(path, study, xml, length);
        check_divisions(path, study, xml, length);
        check_order(path, study, xml, length);
        check_ties(path, study, xml, length);
        check_container(path, study);
    }
    muta_study_free(study);
    muta_score_free(score);
    free(xml);
}

int main(void)
{
    corpus scores = corpus_find(false);

    for (size_t i = 0; i < scores.count; i++)
        check_score(scores.paths[i]);
    printf("heard the same: transposed %zu, other divisions %zu, other order %zu, other ties %zu, "
           "out of a container %zu\n%zu passed, %zu failed, %zu skipped\n",
           seen.laws[0], seen.laws[1], seen.laws[2], seen.laws[3], seen.laws[4], seen.passed,
           seen.failed, scores.missing);
    const int status = seen.failed ? 1 : scores.count == 0 ? 77 : 0;
    corpus_free(&scores);
    return status;
}
