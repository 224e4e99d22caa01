/*
 * matrix.c: every pass over every score of the corpora, and the laws that hold for all of them. One
 * process, the schemas compiled once. A pass that does nothing must not be green.
 *
 *     matrix all|tenth|SHARE/OF SCHEMA-3.0 SCHEMA-4.0
 *     matrix pairs|pairs-tenth SCHEMA-3.0 SCHEMA-4.0 SCORE...
 *
 * Unless all scores are asked for, a quartet counts as its first 40 bars. 1/2 and 2/2 are the
 * halves of the tenth; pairs are every two passes in every place of the result.
 */
#include "matrix/matrix.h"
#include "musicxml/patch.h"
#include "mutanza/limits.h"
#include "score/texture.h"
#include "support/compare.h"
#include "support/corpus.h"
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const char *const schema_names[SCHEMAS] = {"3.0", "4.0"};
static muta_schema *schemas[SCHEMAS];

/* What was seen, over all scores. */
static struct {
    size_t scores;
    size_t passed;
    size_t failed;
    size_t skipped;
    size_t same_bytes;
    size_t plain_utf8;
    size_t not_canonical;
    size_t valid[SCHEMAS];
    size_t real;       /* songs and quartets */
    size_t real_valid; /* of them in at least one schema */
    compare_counts forced;
    compare_counts back;
    size_t back_respelled;
    size_t laws;
    size_t respelled;
    size_t refused;
    size_t edge_ties;
} seen;

struct tally {
    size_t work;
    size_t changed;
    size_t refused;
};

void check(const struct subject *subject, bool good, const char *format, ...)
{
    va_list values;

    if (good) {
        seen.passed++;
        return;
    }
    seen.failed++;
    printf("FAILED %s: ", corpus_name(subject->path));
    va_start(values, format);
    (void)vprintf(format, values);
    va_end(values);
    printf("\n");
}

muta_score *read_xml(const char *xml, size_t length)
{
    muta_score *score = NULL;

    return muta_score_read_bytes(xml, length, &score, NULL) == MUTA_OK ? score : NULL;
}

/* ---- identity ---- */

/* How many elements another reader finds. */
static size_t count_elements(const char *events)
{
    size_t count = 0;

    for (const char *at = events; (at = strchr(at, '\n')); at++)
        count += at[1] == '1' && at[2] == ' ';
    return count;
}

static muta_status throw_away(void *to, const char *at, size_t length)
{
    (void)to;
    (void)at;
    (void)length;
    return MUTA_OK;
}

/* What is written is the tree, node for node, and not a copy of the bytes. */
static void check_nodes(const struct subject *subject, const muta_tree *tree, const char *events)
{
    size_t written = 0;
    size_t elements = 0;

    for (muta_node node = 1; node < muta_tree_end(tree); node++)
        elements += muta_tree_at(tree, node)->kind == MUTA_ELEMENT;
    check(subject,
          muta_tree_write(tree, (muta_sink){throw_away, NULL}, &written) == MUTA_OK &&
              written == muta_tree_end(tree) - 1 && elements == count_elements(events),
          "%zu nodes of %u are written, %zu elements of %zu are there", written,
          (unsigned)muta_tree_end(tree) - 1, elements, count_elements(events));
}

static void check_identity(const struct subject *subject, const muta_score *score)
{
    char *out;
    size_t length;
    size_t one;
    size_t two;

    if (muta_score_write_bytes(score, &out, &length) != MUTA_OK) {
        check(subject, false, "the identity is not written");
        return;
    }
    char *const before = compare_events(subject->xml, subject->length);
    char *const after = compare_events(out, length);
    check(subject, before && after && strcmp(before, after) == 0, "identity: the events differ");
    if (before)
        check_nodes(subject, &score->tree, before);
    char *const canonical = compare_canonical(subject->xml, subject->length, &one);
    char *const again = compare_canonical(out, length, &two);
    if (canonical)
        check(subject, again && one == two && memcmp(canonical, again, one) == 0,
              "identity: the canonical forms differ");
    else
        printf("no canonical form: %s\n", corpus_name(subject->path));
    seen.not_canonical += canonical == NULL;
    const bool same = length == subject->length && memcmp(out, subject->xml, length) == 0;
    seen.same_bytes += same;
    if (!same) {
        size_t at = 0;
        while (at < length && at < subject->length && out[at] == subject->xml[at])
            at++;
        printf("other bytes: %s from byte %zu\n", corpus_name(subject->path), at);
    }
    free(before);
    free(after);
    free(canonical);
    free(again);
    free(out);
}

/* ---- running a line of passes ---- */

muta_passage *vary(const muta_passage *in, const char *line)
{
    muta_chain *chain;
    muta_passage *out = NULL;

    if (muta_chain_parse(line, &chain, NULL) != MUTA_OK)
        return NULL;
    if (muta_chain_apply(chain, in, 1, &out, NULL) != MUTA_OK)
        out = NULL;
    muta_chain_free(chain);
    return out;
}

muta_status run(muta_score *score, const char *line, muta_outcome *outcome, muta_diags *diags)
{
    muta_chain *chain;

    MUTA_TRY(muta_chain_parse(line, &chain, diags));
    const muta_status status = muta_chain_run(chain, score, 1, outcome, diags);
    muta_chain_free(chain);
    return status;
}

static bool same_note(const muta_note *a, const muta_note *b)
{
    return a->flags == b->flags && a->sign == b->sign && a->stem == b->stem &&
           a->staff == b->staff && a->voice == b->voice && a->bar == b->bar &&
           muta_pitch_is_equal(a->pitch, b->pitch) && a->tied_from == b->tied_from &&
           a->tied_to == b->tied_to && muta_fraction_compare(a->onset, b->onset) == 0 &&
           muta_fraction_compare(a->duration, b->duration) == 0;
}

/* Where two notes that should be the same differ, in words. */
static void describe(const muta_note *a, const muta_note *b, char *text, size_t room)
{
    char from[2][MUTA_FRACTION_TEXT];
    char lasts[2][MUTA_FRACTION_TEXT];

    (void)snprintf(text, room,
                   "bar #%u/%u flags %x/%x sign %u/%u stem %u/%u voice %u/%u place %d/%d alter "
                   "%d/%d tied %u-%u/%u-%u at %s/%s for %s/%s",
                   a->bar + 1, b->bar + 1, a->flags, b->flags, a->sign, b->sign, a->stem, b->stem,
                   a->voice, b->voice, a->pitch.place, b->pitch.place, a->pitch.alter,
                   b->pitch.alter, a->tied_from, a->tied_to, b->tied_from, b->tied_to,
                   muta_fraction_print(a->onset, from[0]), muta_fraction_print(b->onset, from[1]),
                   muta_fraction_print(a->duration, lasts[0]),
                   muta_fraction_print(b->duration, lasts[1]));
}

/* What the program holds is what it wrote: a reader finds the same notes, keys and bars. */
static void check_reread(const struct subject *subject, const muta_score *score, const char *line)
{
    char *out;
    size_t length;
    size_t differ = 0;
    char first[400] = "";

    if (muta_score_write_bytes(score, &out, &length) != MUTA_OK) {
        check(subject, false, "%s: is not written", line);
        return;
    }
    muta_score *const again = read_xml(out, length);
    check(subject, again && again->part_count == score->part_count, "%s: is not read again", line);
    for (size_t i = 0; again && i < score->part_count; i++) {
        const muta_part *const a = &score->parts[i];
        const muta_part *const b = &again->parts[i];
        differ += a->notes.count != b->notes.count || a->keys.count != b->keys.count;
        for (size_t j = 0; j < a->notes.count && j < b->notes.count; j++)
            if (!same_note(&a->notes.at[j], &b->notes.at[j]) && differ++ == 0)
                describe(&a->notes.at[j], &b->notes.at[j], first, sizeof first);
        for (size_t j = 0; j < a->keys.count && j < b->keys.count; j++)
            differ += a->keys.at[j].key.fifths != b->keys.at[j].key.fifths ||
                      muta_moment_compare(a->keys.at[j].at, b->keys.at[j].at) != 0;
        for (size_t j = 0; j < a->bar_count && j < b->bar_count; j++)
            differ += muta_fraction_compare(a->bars[j].length, b->bars[j].length) != 0;
    }
    check(subject, differ == 0, "%s: %zu notes, keys or bars are read otherwise: %s", line, differ,
          first);
    for (size_t i = 0; i < SCHEMAS; i++) {
        muta_diags *const diags = muta_diags_new();
        if (subject->valid[i])
            check(subject, muta_schema_check(schemas[i], out, length, diags) == MUTA_OK,
                  "%s: not valid in %s: %s", line, schema_names[i],
                  muta_diags_at(diags, 0) ? muta_diags_at(diags, 0)->message : "?");
        muta_diags_free(diags);
    }
    muta_score_free(again);
    free(out);
}

/* ---- the null pass and the forced patch ---- */

static void add_counts(compare_counts *sum, const compare_counts *more)
{
    for (size_t i = 0; i < COMPARE_KINDS; i++)
        sum->at[i] += more->at[i];
}

static void check_null(const struct subject *subject, const muta_score *score)
{
    muta_score *const null = read_xml(subject->xml, subject->length);
    const muta_status status = run(null, "transpose by=P1 where=*", NULL, NULL);

    if (status == MUTA_OK) {
        const compare_counts counts = compare_trees(&score->tree, &null->tree);
        check(subject, compare_total(&counts) == 0, "null pass: %zu differences, %s",
              compare_total(&counts), counts.first_other);
    }
    muta_score_free(null);
}

/* Takes the pitch of every tone for changed and writes it. */
static void check_forced(const struct subject *subject, const muta_score *score)
{
    muta_score *const forced = read_xml(subject->xml, subject->length);
    muta_region *region = NULL;
    muta_passage *passage = NULL;
    muta_status status = muta_region_parse(forced, NULL, &region, NULL);

    if (status == MUTA_OK)
        status = muta_passage_lift(forced, region, &passage, NULL);
    if (status == MUTA_OK) {
        for (size_t i = 0; i < passage->work.tones.count; i++)
            passage->work.tones.at[i].is_pitch_changed = !passage->work.tones.at[i].is_fixed;
        check(subject,
              muta_passages_splice((const muta_passage *const[]){passage}, 1, forced, NULL, NULL) ==
                  MUTA_OK,
              "the forced patch is refused");
        const compare_counts counts = compare_trees(&score->tree, &forced->tree);
        check(subject,
              counts.at[COMPARE_OTHER] + counts.at[COMPARE_TAKEN] + counts.at[COMPARE_CLEF] == 0,
              "forced patch: %zu differences, %s", counts.at[COMPARE_OTHER], counts.first_other);
        if (counts.at[COMPARE_ACCIDENTAL] + counts.at[COMPARE_STEM] + counts.at[COMPARE_TIE] > 0)
            printf("forced patch: %s: %zu accidentals, %zu stems, %zu ties\n",
                   corpus_name(subject->path), counts.at[COMPARE_ACCIDENTAL],
                   counts.at[COMPARE_STEM], counts.at[COMPARE_TIE]);
        add_counts(&seen.forced, &counts);
    }
    muta_passage_free(passage);
    muta_region_free(region);
    muta_score_free(forced);
}

/* Whether a part passed seven accidentals on the way and was written enharmonically. */
static bool was_respelled(const muta_score *score, const muta_score *there)
{
    for (size_t i = 0; i < score->part_count; i++)
        for (size_t j = 0; j < score->parts[i].keys.count; j++)
            if (score->parts[i].keys.at[j].is_traditional &&
                there->parts[i].keys.at[j].key.fifths != score->parts[i].keys.at[j].key.fifths + 2)
                return true;
    return false;
}

/* A whole tone up and down again, through two files. */
static void check_back(const struct subject *subject, const muta_score *score)
{
    muta_score *const there = read_xml(subject->xml, subject->length);
    char *out = NULL;
    size_t length;

    if (run(there, "transpose by=M2", NULL, NULL) == MUTA_OK &&
        muta_score_write_bytes(there, &out, &length) == MUTA_OK) {
        muta_score *const back = read_xml(out, length);
        const muta_status status = back ? run(back, "transpose by=-M2", NULL, NULL) : MUTA_E_DATA;
        check(subject, status == MUTA_OK, "the way back is refused");
        if (status == MUTA_OK) {
            const compare_counts counts = compare_trees(&score->tree, &back->tree);
            const bool respelled = was_respelled(score, there);
            seen.back_respelled += respelled;
            check(subject, respelled || counts.at[COMPARE_OTHER] == 0,
                  "there and back: %zu differences, %s", counts.at[COMPARE_OTHER],
                  counts.first_other);
            add_counts(&seen.back, &counts);
        }
        muta_score_free(back);
    }
    free(out);
    muta_score_free(there);
}

/* ---- every pass, bare ---- */

static bool keys_in_limit(const muta_score *score)
{
    for (size_t i = 0; i < score->part_count; i++)
        for (size_t j = 0; j < score->parts[i].keys.count; j++)
            if (score->parts[i].keys.at[j].key.fifths > MUTA_LIMIT_FIFTHS ||
                score->parts[i].keys.at[j].key.fifths < -MUTA_LIMIT_FIFTHS)
                return false;
    return true;
}

static void check_pass(const struct subject *subject, const muta_score *before,
                       const muta_pass *pass, struct tally *tally)
{
    muta_score *const one = read_xml(subject->xml, subject->length);
    muta_score *const two = read_xml(subject->xml, subject->length);
    muta_diags *const diags = muta_diags_new();
    muta_outcome outcome;
    char *first = NULL;
    char *second = NULL;
    size_t first_length = 0;
    size_t second_length = 0;
    const muta_status status = run(one, pass->name, &outcome, diags);

    if (status != MUTA_OK) {
        tally->refused++;
        printf("refused: %s %s: %s\n", pass->name, corpus_name(subject->path),
               muta_diags_at(diags, 0) ? muta_diags_at(diags, 0)->message : "?");
        check(subject, status == MUTA_E_DATA, "%s ends with status %d", pass->name, (int)status);
    } else {
        tally->work += outcome.had_work;
        tally->changed += outcome.had_work && outcome.tones_changed + outcome.marks_added > 0;
        check(subject,
              !outcome.had_work || !(pass->effect & MUTA_MOVES_KEYS) || keys_in_limit(one) ||
                  !keys_in_limit(before),
              "%s: a key beyond seven accidentals", pass->name);
        check_reread(subject, one, pass->name);
        check_closed(subject, before, one, pass->name);
        check(subject,
              run(two, pass->name, NULL, NULL) == MUTA_OK &&
                  muta_score_write_bytes(one, &first, &first_length) == MUTA_OK &&
                  muta_score_write_bytes(two, &second, &second_length) == MUTA_OK &&
                  first_length == second_length && memcmp(first, second, first_length) == 0,
              "%s: other bytes the second time", pass->name);
    }
    free(first);
    free(second);
    muta_diags_free(diags);
    muta_score_free(one);
    muta_score_free(two);
}

/* ---- laws, over voices and seeded passages ---- */

muta_passage *lift(const muta_score *score, const char *address)
{
    muta_region *region;
    muta_passage *passage = NULL;

    if (muta_region_parse(score, address, &region, NULL) != MUTA_OK)
        return NULL;
    if (muta_passage_lift(score, region, &passage, NULL) != MUTA_OK)
        passage = NULL;
    muta_region_free(region);
    return passage;
}

static const muta_tone *nth_tone(const muta_weave *weave, size_t event, uint32_t nth)
{
    return &weave->tones.at[weave->events.at[event].tone + nth];
}

/* How many tones of b are not those of a, moved by an interval: in sound, and in spelling. */
static void compare_moved(const muta_passage *a, const muta_passage *b, muta_interval by,
                          size_t *sound, size_t *spelling)
{
    const muta_weave *const one = &a->work;
    const muta_weave *const two = &b->work;

    *sound = one->tones.count != two->tones.count || one->events.count != two->events.count;
    *spelling = *sound;
    if (*sound)
        return;
    for (size_t i = 0; i < one->events.count; i++)
        *sound +=
            muta_fraction_compare(one->events.at[i].onset, two->events.at[i].onset) != 0 ||
            muta_fraction_compare(one->events.at[i].duration, two->events.at[i].duration) != 0;
    for (size_t i = 0; i < one->events.count; i++) {
        *sound += one->events.at[i].tone_count != two->events.at[i].tone_count;
        for (uint32_t j = 0; j < one->events.at[i].tone_count; j++) {
            const muta_tone *const tone = nth_tone(one, i, j);
            const muta_pitch moved = tone->is_fixed ? tone->pitch : muta_pitch_add(tone->pitch, by);
            *sound += muta_pitch_sound(moved) != muta_pitch_sound(nth_tone(two, i, j)->pitch);
            *spelling += !muta_pitch_is_equal(moved, nth_tone(two, i, j)->pitch);
        }
    }
}

static const char *const intervals[] = {"m2", "M2", "m3", "M3", "P4", "A4", "d5",
                                        "P5", "m6", "M6", "m7", "M7", "P8"};

static bool covers_part(const muta_region *region, uint32_t part)
{
    for (size_t i = 0; i < region->ranges.count; i++)
        if (region->ranges.at[i].part == part)
            return true;
    return false;
}

/* Whether a tie was cut at a note of this bar; the notes themselves must be what they were. */
static bool lost_a_tie(const struct subject *subject, const char *address, const muta_part *before,
                       const muta_part *after, uint32_t bar)
{
    const uint32_t ties = MUTA_NOTE_TIE_START | MUTA_NOTE_TIE_STOP;
    bool lost = false;
    size_t moved = 0;

    for (uint32_t i = 0; i < before->bars[bar].count; i++) {
        const muta_note *const a = &before->notes.at[before->bars[bar].first + i];
        const muta_note *const b = &after->notes.at[after->bars[bar].first + i];
        lost = lost || ((a->flags ^ b->flags) & ties);
        moved += !muta_pitch_is_equal(a->pitch, b->pitch);
    }
    check(subject, moved == 0, "%s: %zu notes moved outside", address, moved);
    return lost;
}

/*
 * Untouched bars go out node for node; but the outer end of a tie that was cut loses it, and the
 * old signature and clef come back behind the passage.
 */
static void check_untouched(const struct subject *subject, const muta_score *before,
                            const muta_score *after, const char *address)
{
    muta_region *region;

    if (muta_region_parse(before, address, &region, NULL) != MUTA_OK)
        return;
    for (uint32_t i = 0; i < before->part_count; i++) {
        const muta_part *const part = &before->parts[i];
        for (uint32_t bar = 0; bar < part->bar_count; bar++) {
            bool touched = part->bars[bar].cell == 0;
            for (uint32_t j = part->bars[bar].first;
                 j < part->bars[bar].first + part->bars[bar].count; j++)
                touched = touched || muta_region_reaches(region, i, &part->notes.at[j]);
            if (touched)
                continue;
            if (lost_a_tie(subject, address, part, &after->parts[i], bar)) {
                seen.edge_ties++;
                continue;
            }
            const compare_counts counts = compare_subtrees(
                &before->tree, part->bars[bar].cell, &after->tree, after->parts[i].bars[bar].cell);
            const bool keys_may =
                bar == region->to.bar ||
                (bar >= region->from.bar && bar < region->to.bar && covers_part(region, i));
            seen.edge_ties += counts.at[COMPARE_SPAN] > 0;
            check(subject,
                  compare_total(&counts) - counts.at[COMPARE_SPAN] ==
                      (keys_may ? counts.at[COMPARE_KEY] + counts.at[COMPARE_CLEF] : 0),
                  "%s: bar #%u of part %u was not reached and changed: %zu ties, %zu signs, %zu "
                  "keys, %zu stems, %s",
                  address, bar + 1, i + 1, counts.at[COMPARE_TIE], counts.at[COMPARE_ACCIDENTAL],
                  counts.at[COMPARE_KEY], counts.at[COMPARE_STEM], counts.first_other);
        }
    }
    muta_region_free(region);
}

static size_t count_voices(const muta_score *score)
{
    size_t count = 0;

    for (size_t i = 0; i < score->part_count; i++)
        count += score->parts[i].voices.count;
    return count;
}

static void check_law(const struct subject *subject, muta_score *score, const char *address,
                      const char *interval)
{
    char line[256];
    muta_interval by;
    size_t sound;
    size_t spelling;
    muta_passage *const was = lift(score, address);

    if (!was || muta_interval_parse(interval, &by) != MUTA_OK) {
        seen.refused++;
        muta_passage_free(was);
        return;
    }
    (void)snprintf(line, sizeof line, "transpose by=%s where=\"%s\"", interval, address);
    const size_t voices = count_voices(score);
    muta_status status = run(score, line, NULL, NULL);
    if (count_voices(score) != voices) {
        /* What overlaps got a voice of its own: the address names another one now. */
        seen.refused++;
        muta_passage_free(was);
        return;
    }
    muta_passage *const is = status == MUTA_OK ? lift(score, address) : NULL;
    if (!is) {
        seen.refused++;
        check(subject, status == MUTA_E_DATA, "%s ends with status %d", line, (int)status);
        muta_passage_free(was);
        return;
    }
    compare_moved(was, is, by, &sound, &spelling);
    const bool respelled = spelling > sound;
    seen.respelled += respelled;
    check(subject, sound == 0, "%s: %zu tones do not sound so", line, sound);
    if (strcmp(interval, "P8") == 0)
        check(subject, spelling == 0, "%s: an octave changed a spelling", line);
    (void)snprintf(line, sizeof line, "transpose by=%s%s where=\"%s\"",
                   interval[0] == '-' ? "" : "-", interval + (interval[0] == '-'), address);
    status = run(score, line, NULL, NULL);
    muta_passage *const back = status == MUTA_OK ? lift(score, address) : NULL;
    check(subject, back != NULL, "%s: no way back", line);
    if (back) {
        compare_moved(was, back, (muta_interval){0, 0}, &sound, &spelling);
        check(subject, sound == 0, "%s: %zu tones do not come back", line, sound);
        check(subject, respelled || spelling == 0, "%s: %zu tones come back spelled otherwise",
              line, spelling);
    }
    seen.laws++;
    muta_passage_free(was);
    muta_passage_free(is);
    muta_passage_free(back);
}

static muta_passage *apply_in_key(const muta_passage *in, const char *sign, const char *interval)
{
    char line[128];

    (void)snprintf(line, sizeof line, "transpose by=%s%s kind=tonal", sign, interval);
    return vary(in, line);
}

bool comes_back(int32_t fifths, muta_pitch was, muta_pitch is)
{
    const int32_t own = muta_key_sharps(fifths, muta_pitch_step(was)) * MUTA_SEMITONE;

    return is.alter == was.alter || (was.alter != own && is.alter == own);
}

/* In memory: within the key there and back is the identity, and the steps are what was asked for.
 */
static void check_tonal_law(const struct subject *subject, const muta_score *score,
                            const char *address, const char *interval)
{
    muta_interval by;
    size_t spelling = 0;
    size_t wrong = 0;
    muta_passage *const was = lift(score, address);

    if (!was || muta_interval_parse(interval, &by) != MUTA_OK) {
        muta_passage_free(was);
        return;
    }
    muta_passage *const is = apply_in_key(was, "", interval);
    muta_passage *const back = is ? apply_in_key(is, "-", interval) : NULL;
    check(subject, back != NULL, "%s: %s within the key is refused", address, interval);
    for (size_t i = 0; back && i < was->work.events.count; i++)
        for (uint32_t j = 0; j < was->work.events.at[i].tone_count; j++)
            wrong += !nth_tone(&was->work, i, j)->is_fixed &&
                     nth_tone(&is->work, i, j)->pitch.place !=
                         nth_tone(&was->work, i, j)->pitch.place + by.steps;
    check(subject, wrong == 0, "%s: %zu tones are not %s away", address, wrong, interval);
    if (back) {
        for (size_t i = 0; i < was->work.events.count; i++)
            for (uint32_t j = 0; j < was->work.events.at[i].tone_count; j++) {
                const muta_tone *const tone = nth_tone(&was->work, i, j);
                const muta_pitch now = nth_tone(&back->work, i, j)->pitch;
                spelling += now.place != tone->pitch.place ||
                            !comes_back(muta_passage_fifths(was, tone), tone->pitch, now);
            }
        check(subject, spelling == 0, "%s: %zu tones do not come back from %s in the key", address,
              spelling, interval);
    }
    seen.laws++;
    muta_passage_free(was);
    muta_passage_free(is);
    muta_passage_free(back);
}

/* An address with a random part, and sometimes staff, voice and beats. */
void random_address(const muta_score *score, uint64_t *seed, char *address, size_t room)
{
    const size_t part = corpus_random(seed, score->part_count);
    const size_t staff = 1 + corpus_random(seed, score->parts[part].staves);
    const size_t first = corpus_random(seed, score->bar_count);
    const size_t last = first + corpus_random(seed, score->bar_count - first);
    const size_t voices = muta_score_voice_count(score, part, staff);
    char lines[64] = "";
    char beat[16] = "";

    if (corpus_random(seed, 3) == 0)
        (void)snprintf(lines, sizeof lines, "/%zu", staff);
    else if (corpus_random(seed, 3) == 0 && voices > 0)
        (void)snprintf(lines, sizeof lines, "/%zu/%zu", staff,
                       1 + (size_t)corpus_random(seed, voices));
    const muta_fraction beats = muta_fraction_multiply(
        score->bars[first].length, muta_fraction_of(score->bars[first].metre.beat_type, 4));
    if (corpus_random(seed, 2) == 0 && beats.bottom > 0 && beats.top / beats.bottom > 1)
        (void)snprintf(beat, sizeof beat, ".%d",
                       1 + (int)corpus_random(seed, (uint64_t)(beats.top / beats.bottom)));
    if (corpus_random(seed, 4) == 0)
        (void)snprintf(address, room, "*:#%zu-#%zu", first + 1, last + 1);
    else
        (void)snprintf(address, room, "%zu%s:#%zu%s-#%zu", part + 1, lines, first + 1, beat,
                       last + 1);
}

static void check_laws(const struct subject *subject)
{
    muta_score *const score = read_xml(subject->xml, subject->length);
    muta_score *const before = read_xml(subject->xml, subject->length);
    uint64_t seed = 7;
    char address[128];

    for (size_t part = 0; part < score->part_count; part++)
        for (size_t staff = 1; staff <= score->parts[part].staves; staff++)
            for (size_t voice = 1; voice <= muta_score_voice_count(score, part, staff); voice++) {
                (void)snprintf(address, sizeof address, "%zu/%zu/%zu", part + 1, staff, voice);
                check_law(subject, score, address,
                          intervals[corpus_random(&seed, MUTA_LENGTH(intervals))]);
            }
    for (size_t i = 0; i < PASSAGES; i++) {
        random_address(score, &seed, address, sizeof address);
        check_law(subject, score, address, intervals[corpus_random(&seed, MUTA_LENGTH(intervals))]);
        check_tonal_law(subject, before, address,
                        intervals[corpus_random(&seed, MUTA_LENGTH(intervals))]);
    }
    check_reread(subject, score, "after the laws");
    muta_score_free(score);
    for (size_t i = 0; i < 3; i++) {
        char line[192];
        muta_score *const after = read_xml(subject->xml, subject->length);
        random_address(after, &seed, address, sizeof address);
        (void)snprintf(line, sizeof line, "transpose by=m3 where=\"%s\"", address);
        if (run(after, line, NULL, NULL) == MUTA_OK) {
            check_untouched(subject, before, after, address);
            check_reread(subject, after, line);
        }
        muta_score_free(after);
    }
    muta_score_free(before);
}

/* ---- one score after another ---- */

/* Gives every second part of a score a transposition, so that the laws meet transposing parts. */
static void add_transpositions(struct subject *subject)
{
    static const char *const transpositions[] = {
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>",
        "<transpose><diatonic>-4</diatonic><chromatic>-7</chromatic></transpose>",
        "<transpose><diatonic>2</diatonic><chromatic>3</chromatic></transpose>",
    };
    char *const made = calloc(1, subject->length + 4096);
    const char *at = subject->xml;
    size_t part = 0;
    char *to = made;

    for (const char *next; (next = strstr(at, "<part ")); part++) {
        const char *const end = strstr(next, "</attributes>");
        if (!end || part > 20)
            break;
        to = mempcpy(to, at, (size_t)(end - at));
        if (part % 2 == 1)
            to = stpcpy(to, transpositions[part / 2 % MUTA_LENGTH(transpositions)]);
        at = end;
    }
    to = stpcpy(to, at);
    free(subject->xml);
    subject->xml = made;
    subject->length = (size_t)(to - made);
}

static void check_score(const char *path, bool whole, struct tally *tallies)
{
    enum {
        BARS = 40
    };
    struct subject subject = {.path = path};
    const bool real = strstr(path, "/songs/") || strstr(path, "/quartets/");

    subject.xml = corpus_xml(path, &subject.length);
    if (subject.xml && !whole && strstr(path, "/quartets/"))
        corpus_cut(subject.xml, &subject.length, BARS);
    muta_diags *const diags = muta_diags_new();
    muta_score *score = NULL;
    const muta_status status =
        subject.xml ? muta_score_read_bytes(subject.xml, subject.length, &score, diags) : MUTA_E_IO;
    check(&subject, status == MUTA_OK, "is not read: %s",
          muta_diags_at(diags, 0) ? muta_diags_at(diags, 0)->message : "?");
    seen.scores++;
    seen.real += real;
    if (status == MUTA_OK) {
        bool any = false;
        for (size_t i = 0; i < SCHEMAS; i++) {
            subject.valid[i] = schemas[i] && muta_schema_check(schemas[i], subject.xml,
                                                               subject.length, NULL) == MUTA_OK;
            seen.valid[i] += subject.valid[i];
            any = any || subject.valid[i];
        }
        seen.real_valid += real && any;
        check_identity(&subject, score);
        check_null(&subject, score);
        check_forced(&subject, score);
        check_back(&subject, score);
        check_pass_laws(&subject, score);
        check_melody_laws(&subject, score);
        check_harmony_laws(&subject, score);
        check_grid_laws(&subject, score);
        check_null_splices(&subject, score);
        check_cuts(&subject, score);
        check_forced_notation(&subject);
        for (size_t i = 0; i < muta_pass_count(); i++)
            check_pass(&subject, score, muta_pass_at(i), &tallies[i]);
        if (strstr(path, "/quartets/"))
            add_transpositions(&subject);
        check_laws(&subject);
    }
    muta_diags_free(diags);
    muta_score_free(score);
    free(subject.xml);
}

static void print_counts(const char *what, const compare_counts *counts)
{
    printf("%s: %zu accidentals, %zu cancels, %zu stems, %zu vertical positions, %zu ties, %zu "
           "taken off, %zu clefs\n",
           what, counts->at[COMPARE_ACCIDENTAL], counts->at[COMPARE_CANCEL],
           counts->at[COMPARE_STEM], counts->at[COMPARE_HEIGHT], counts->at[COMPARE_TIE],
           counts->at[COMPARE_TAKEN], counts->at[COMPARE_CLEF]);
}

static void print_report(const struct tally *tallies)
{
    printf("\n%zu scores, %zu the same byte for byte, %zu without canonical form\n", seen.scores,
           seen.same_bytes, seen.not_canonical);
    for (size_t i = 0; i < SCHEMAS; i++)
        printf("valid as they came in %s: %zu%s\n", schema_names[i], seen.valid[i],
               schemas[i] ? "" : " (schema missing, skipped)");
    printf("songs and quartets: %zu, valid in a schema: %zu\n", seen.real, seen.real_valid);
    print_counts("forced patch", &seen.forced);
    print_counts("there and back", &seen.back);
    printf("there and back: %zu scores with a respelled part\n", seen.back_respelled);
    printf(
        "laws: %zu there and back, %zu respelled, %zu refused; %zu bars with a tie or slur cut at "
        "the edge\n",
        seen.laws, seen.respelled, seen.refused, seen.edge_ties);
    for (size_t i = 0; i < muta_pass_count(); i++)
        printf("%-12s something to work on %zu, changed %zu, refused %zu\n", muta_pass_at(i)->name,
               tallies[i].work, tallies[i].changed, tallies[i].refused);
}

/* A run that met nothing, or whose passes did nothing, is no pass. */
static void check_report(const struct tally *tallies)
{
    const struct subject all = {.path = "all"};

    if (schemas[0] && schemas[1] && seen.real > 0)
        check(&all, seen.real_valid * 70 >= seen.real * 60, "too few inputs were valid: %zu of %zu",
              seen.real_valid, seen.real);
    for (size_t i = 0; i < muta_pass_count(); i++) {
        const struct tally *const tally = &tallies[i];
        const size_t at_least = (muta_pass_at(i)->needs & MUTA_NEEDS_INSTRUMENTS) ? 30
                                : (muta_pass_at(i)->answer & MUTA_SELDOM_FITS)    ? 8
                                : (muta_pass_at(i)->needs & MUTA_NEEDS_SHAPE) ||
                                        (muta_pass_at(i)->answer & MUTA_MAY_FIND_NOTHING)
                                    ? 3
                                    : 2;
        check(&all, tally->work * at_least >= seen.scores,
              "%s had something to work on in only %zu", muta_pass_at(i)->name, tally->work);
        check(&all, tally->changed * 10 >= tally->work * 9, "%s changed only %zu of %zu",
              muta_pass_at(i)->name, tally->changed, tally->work);
    }
}

/* ---- pairs ---- */

static char running[128];

/* A pair that does not end is told before the program ends. */
static void out_of_time(int signal)
{
    (void)signal;
    (void)!write(STDOUT_FILENO, "FAILED, no end in sight: ", 25);
    (void)!write(STDOUT_FILENO, running, strlen(running));
    (void)!write(STDOUT_FILENO, "\n", 1);
    _exit(1);
}

static const muta_setting settings[] = {
    {.seed = 1, .to = MUTA_IN_PLACE, .takes = 1}, {.seed = 1, .to = MUTA_APPEND, .takes = 1},
    {.seed = 1, .to = MUTA_ONLY, .takes = 1},     {.seed = 1, .to = MUTA_BESIDE, .takes = 1},
    {.seed = 1, .to = MUTA_APPEND, .takes = 2},
};
static const char *const setting_names[] = {"in place", "append", "only", "beside", "takes"};

static void check_pair(const struct subject *subject, const muta_score *before, const char *line,
                       const muta_setting *setting, struct tally *tally)
{
    enum {
        SECONDS = 100
    };
    muta_score *const score = read_xml(subject->xml, subject->length);
    muta_diags *const diags = muta_diags_new();
    muta_chain *chain = NULL;
    muta_outcome outcome;

    (void)alarm(SECONDS);
    muta_status status = muta_chain_parse(line, &chain, diags);
    if (status == MUTA_OK)
        status = muta_chain_run_as(chain, score, setting, &outcome, diags);
    if (status != MUTA_OK) {
        tally->refused++;
        printf("refused: %s: %s\n", running,
               muta_diags_at(diags, 0) ? muta_diags_at(diags, 0)->message : "?");
        check(subject, status == MUTA_E_DATA, "%s ends with status %d", running, (int)status);
    } else {
        tally->work += outcome.had_work;
        check_reread(subject, score, running);
        if (setting->to == MUTA_IN_PLACE)
            check_closed(subject, before, score, running);
    }
    (void)alarm(0);
    muta_chain_free(chain);
    muta_diags_free(diags);
    muta_score_free(score);
}

static void check_pairs(const char *path, bool all, struct tally *tally)
{
    struct subject subject = {.path = path};
    char line[96];

    subject.xml = corpus_xml(path, &subject.length);
    muta_score *const before = subject.xml ? read_xml(subject.xml, subject.length) : NULL;
    check(&subject, before != NULL, "is not read");
    for (size_t i = 0; i < SCHEMAS && before; i++)
        subject.valid[i] = schemas[i] && muta_schema_check(schemas[i], subject.xml, subject.length,
                                                           NULL) == MUTA_OK;
    for (size_t i = 0; before && i < muta_pass_count() * muta_pass_count(); i++)
        for (size_t j = 0; j < MUTA_LENGTH(settings); j++) {
            /* 11 has no divisor in common with the numbers of passes and places. */
            if (!all && (i * MUTA_LENGTH(settings) + j) % 11 != 0)
                continue;
            (void)snprintf(line, sizeof line, "%s then %s",
                           muta_pass_at(i / muta_pass_count())->name,
                           muta_pass_at(i % muta_pass_count())->name);
            (void)snprintf(running, sizeof running, "%s, %s", line, setting_names[j]);
            check_pair(&subject, before, line, &settings[j], tally);
        }
    muta_score_free(before);
    free(subject.xml);
}

static int run_pairs(bool all, char *const *paths, size_t count)
{
    struct tally tally = {0};

    (void)signal(SIGALRM, out_of_time);
    for (size_t i = 0; i < count; i++)
        check_pairs(paths[i], all, &tally);
    printf("pairs: something to work on %zu, refused %zu\n", tally.work, tally.refused);
    check(&(struct subject){.path = "all"}, tally.refused < tally.work / 4, "too many are refused");
    printf("%zu passed, %zu failed, %zu skipped\n", seen.passed, seen.failed, seen.skipped);
    return seen.failed ? 1 : 0;
}

static int run_matrix(const char *which)
{
    const bool all = strcmp(which, "all") == 0;
    const size_t shares = which[0] >= '1' && which[0] <= '9' ? (size_t)(which[2] - '0') : 1;
    const size_t share = shares > 1 ? (size_t)(which[0] - '1') : 0;
    corpus scores = corpus_find(all);
    struct tally *const tallies = calloc(muta_pass_count(), sizeof *tallies);

    seen.skipped += scores.missing;
    for (size_t i = share; i < scores.count; i += shares)
        check_score(scores.paths[i], all, tallies);
    if (scores.count > 0) {
        print_report(tallies);
        print_laws();
        print_melody_laws();
        print_harmony_laws();
        print_grid_laws();
        check_report(tallies);
    }
    printf("%zu passed, %zu failed, %zu skipped\n", seen.passed, seen.failed, seen.skipped);
    const int status = seen.failed ? 1 : scores.count == 0 ? 77 : 0;
    free(tallies);
    corpus_free(&scores);
    return status;
}

int main(int count, char **arguments)
{
    const char *const which = count > 1 ? arguments[1] : "tenth";

    for (int i = 0; i < SCHEMAS; i++)
        if (count > 2 + i && muta_schema_read(arguments[2 + i], &schemas[i], NULL) != MUTA_OK)
            seen.skipped++;
    const int status = strncmp(which, "pairs", 5) == 0
                           ? run_pairs(strcmp(which, "pairs") == 0, arguments + 2 + SCHEMAS,
                                       count > 2 + SCHEMAS ? (size_t)count - 2 - SCHEMAS : 0)
                           : run_matrix(which);
    for (int i = 0; i < SCHEMAS; i++)
        muta_schema_free(schemas[i]);
    return status;
}
