/*
 * pass_laws.c: laws of the passes, and of writing time, over the scores of the corpora. Needs no
 * expected values: twice is the identity, there and back, the same passage again.
 */
#include "matrix/matrix.h"
#include "musicxml/rewrite.h"
#include "support/compare.h"
#include "support/corpus.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct {
    size_t laws;
    size_t refused;
    size_t null_splices;
    size_t cuts;
    size_t bars;
    size_t own_values;
    size_t own_beams;
} seen;

/* What a tone is, apart from where it is kept. */
struct heard {
    uint32_t id;
    uint32_t part;
    bool is_grace;
    muta_fraction onset;
    muta_fraction duration;
    muta_pitch pitch;
};

static int by_id(const void *a, const void *b)
{
    const struct heard *const one = a;
    const struct heard *const two = b;

    return one->id < two->id ? -1 : one->id > two->id;
}

static int by_sound(const void *a, const void *b)
{
    const struct heard *const one = a;
    const struct heard *const two = b;
    const int64_t orders[] = {
        (int64_t)one->part - two->part,
        muta_fraction_compare(one->onset, two->onset),
        (int64_t)two->is_grace - one->is_grace,
        (int64_t)one->pitch.place - two->pitch.place,
        (int64_t)one->pitch.alter - two->pitch.alter,
        muta_fraction_compare(one->duration, two->duration),
    };

    for (size_t i = 0; i < MUTA_LENGTH(orders); i++)
        if (orders[i] != 0)
            return orders[i] < 0 ? -1 : 1;
    return 0;
}

static struct heard *hear(const muta_passage *passage, int (*order)(const void *, const void *))
{
    const muta_weave *const work = &passage->work;
    struct heard *const heard = calloc(work->tones.count + 1, sizeof *heard);

    for (size_t i = 0; i < work->tones.count; i++) {
        const muta_tone *const tone = &work->tones.at[i];
        const muta_event *const event = &work->events.at[tone->event];
        heard[i] = (struct heard){tone->id,        work->lines.at[tone->line].part,
                                  event->is_grace, event->onset,
                                  tone->duration,  tone->pitch};
    }
    qsort(heard, work->tones.count, sizeof *heard, order);
    return heard;
}

static bool same_heard(const struct heard *a, const struct heard *b)
{
    return a->part == b->part && a->is_grace == b->is_grace &&
           muta_fraction_compare(a->onset, b->onset) == 0 &&
           muta_fraction_compare(a->duration, b->duration) == 0 &&
           muta_pitch_is_equal(a->pitch, b->pitch);
}

/* How many tones of one are not those of the other, by id; octaves of whole lines may differ. */
static size_t differing(const muta_passage *a, const muta_passage *b, bool octaves)
{
    const size_t count = a->work.tones.count;
    size_t differ = count != b->work.tones.count;

    if (differ)
        return SIZE_MAX;
    struct heard *const one = hear(a, by_id);
    struct heard *const two = hear(b, by_id);
    for (size_t i = 0; i < count; i++) {
        const int32_t away = muta_pitch_sound(two[i].pitch) - muta_pitch_sound(one[i].pitch);
        /* In sound: what would have many signs is spelled more simply. */
        if (octaves ? away % (12 * MUTA_SEMITONE) == 0 : away == 0)
            two[i].pitch = one[i].pitch;
        if ((one[i].id != two[i].id || !same_heard(&one[i], &two[i])) && differ++ == 0 &&
            getenv("MUTA_SHOW")) {
            char text[4][MUTA_FRACTION_TEXT];
            printf("  id %u/%u at %s/%s for %s/%s place %d/%d\n", one[i].id, two[i].id,
                   muta_fraction_print(one[i].onset, text[0]),
                   muta_fraction_print(two[i].onset, text[1]),
                   muta_fraction_print(one[i].duration, text[2]),
                   muta_fraction_print(two[i].duration, text[3]), one[i].pitch.place,
                   two[i].pitch.place);
        }
    }
    free(one);
    free(two);
    return differ;
}

/* Turned over twice within the key each tone is on its line or space again, and what was of the
 * scale is as it was; octaves of whole lines may differ. */
static void check_turned_back(const struct subject *subject, const muta_passage *in,
                              const char *address)
{
    muta_passage *const out = vary(in, "invert axis=first | invert axis=first");
    size_t wrong = 0;

    seen.laws++;
    if (!out) {
        seen.refused++;
        return;
    }
    struct heard *const one = hear(in, by_id);
    for (size_t i = 0; i < out->work.tones.count; i++) {
        const muta_tone *const tone = &out->work.tones.at[i];
        const struct heard *const was =
            bsearch(&(struct heard){.id = tone->id}, one, in->work.tones.count, sizeof *one, by_id);
        wrong += !was || (tone->pitch.place - was->pitch.place) % 7 != 0 ||
                 !comes_back(muta_passage_fifths(out, tone), was->pitch, tone->pitch);
    }
    check(subject, wrong == 0, "%s: invert | invert is not the identity: %zu tones", address,
          wrong);
    free(one);
    muta_passage_free(out);
}

static void check_identity(const struct subject *subject, const muta_passage *in,
                           const char *address, const char *line, bool octaves)
{
    muta_passage *const out = vary(in, line);

    seen.laws++;
    if (!out) {
        seen.refused++;
        return;
    }
    const size_t differ = differing(in, out, octaves);
    check(subject, differ == 0, "%s: %s is not the identity: %zu tones", address, line, differ);
    muta_passage_free(out);
}

/* Two ways to the same passage, up to a transposition of the whole. */
static void check_same(const struct subject *subject, const muta_passage *in, const char *address,
                       const char *line, const char *other)
{
    muta_passage *const a = vary(in, line);
    muta_passage *const b = vary(in, other);

    seen.laws++;
    if (a && b) {
        const size_t differ = differing(a, b, false);
        check(subject, differ == 0, "%s: %s is not %s: %zu tones", address, line, other, differ);
    }
    muta_passage_free(a);
    muta_passage_free(b);
}

/* Each tone as long as it was, whatever its place. */
static void check_lengths(const struct subject *subject, const muta_passage *in,
                          const char *address)
{
    muta_passage *const out = vary(in, "retrograde");
    size_t wrong = 0;

    seen.laws++;
    if (!out)
        return;
    struct heard *const one = hear(in, by_id);
    struct heard *const two = hear(out, by_id);
    for (size_t i = 0; i < in->work.tones.count && i < out->work.tones.count; i++)
        wrong += muta_fraction_compare(one[i].duration, two[i].duration) != 0 ||
                 !muta_pitch_is_equal(one[i].pitch, two[i].pitch);
    check(subject, wrong == 0, "%s: retrograde changed %zu tones", address, wrong);
    free(one);
    free(two);
    muta_passage_free(out);
}

/*
 * A tone of the scale stays in the scale; an altered one has its sign turned, or is the scale's
 * where that would be a sign that nobody expects.
 */
static void check_scale(const struct subject *subject, const muta_passage *in, const char *address)
{
    muta_passage *const out = vary(in, "invert");
    size_t wrong = 0;

    seen.laws++;
    if (!out)
        return;
    struct heard *const one = hear(in, by_id);
    struct heard *const two = hear(out, by_id);
    for (size_t i = 0; i < in->work.tones.count; i++) {
        const muta_tone *const tone = &in->work.tones.at[i];
        const int32_t fifths = muta_passage_fifths(in, tone);
        struct heard *const before =
            bsearch(&(struct heard){.id = tone->id}, one, in->work.tones.count, sizeof *one, by_id);
        struct heard *const after = bsearch(&(struct heard){.id = tone->id}, two,
                                            out->work.tones.count, sizeof *two, by_id);
        if (tone->is_fixed || !before || !after)
            continue;
        const int32_t was = before->pitch.alter -
                            muta_key_sharps(fifths, muta_pitch_step(before->pitch)) * MUTA_SEMITONE;
        const int32_t is = after->pitch.alter -
                           muta_key_sharps(fifths, muta_pitch_step(after->pitch)) * MUTA_SEMITONE;
        wrong += was == 0 ? is != 0 : is != -was && is != 0;
    }
    check(subject, wrong == 0, "%s: invert left the scale with %zu tones", address, wrong);
    free(one);
    free(two);
    muta_passage_free(out);
}

/* From major to minor and back each tone stays on its line or space, for as long as it lasted. */
static void check_degrees(const struct subject *subject, const muta_passage *in,
                          const char *address)
{
    muta_passage *const out = vary(in, "mode");
    size_t wrong = 0;

    seen.laws++;
    if (!out)
        return;
    struct heard *const one = hear(in, by_id);
    struct heard *const two = hear(out, by_id);
    for (size_t i = 0; i < in->work.tones.count && i < out->work.tones.count; i++)
        wrong += one[i].id != two[i].id || one[i].pitch.place != two[i].pitch.place ||
                 muta_fraction_compare(one[i].onset, two[i].onset) != 0 ||
                 muta_fraction_compare(one[i].duration, two[i].duration) != 0;
    check(subject, wrong == 0, "%s: mode moved %zu tones from their degrees", address, wrong);
    free(one);
    free(two);
    muta_passage_free(out);
}

/* Each statement lies as many steps below the one before, or, where the range ends, above it. */
static void check_sequence(const struct subject *subject, const muta_passage *in,
                           const char *address)
{
    muta_passage *const out = vary(in, "sequence times=2");
    size_t tones = 0;
    size_t below = 0;
    size_t above = 0;

    seen.laws++;
    if (!out)
        return;
    for (size_t i = 0; i < out->work.tones.count; i++) {
        const muta_tone *const tone = &out->work.tones.at[i];
        for (size_t j = 0; tone->id > in->next_id && j < out->work.tones.count; j++)
            if (out->work.tones.at[j].id == tone->origin && !tone->is_fixed) {
                const int32_t away = tone->pitch.place - out->work.tones.at[j].pitch.place;
                tones++;
                below += away == -1;
                above += away == 1;
            }
    }
    check(subject, below + above == tones,
          "%s: of %zu tones of a sequence %zu are a step lower, %zu higher", address, tones, below,
          above);
    muta_passage_free(out);
}

static void check_address(const struct subject *subject, const muta_score *score,
                          const char *address, bool one_line)
{
    muta_passage *const in = lift(score, address);
    char line[64];
    size_t places = 0;

    if (!in)
        return;
    check_turned_back(subject, in, address);
    check_identity(subject, in, address, "invert axis=F#4 kind=real | invert axis=F#4 kind=real",
                   true);
    check_identity(subject, in, address, "retrograde | retrograde", false);
    check_identity(subject, in, address, "augment | diminish", false);
    check_identity(subject, in, address, "augment by=3/2 | diminish by=3/2", false);
    check_identity(subject, in, address, "rotate by=0 of=all", false);
    check_same(subject, in, address, "invert axis=C4 kind=real | retrograde",
               "retrograde | invert axis=C4 kind=real");
    check_lengths(subject, in, address);
    check_scale(subject, in, address);
    check_degrees(subject, in, address);
    if (in->work.tones.count < 400)
        check_sequence(subject, in, address);
    for (size_t i = 0; i < in->work.events.count; i++)
        places += !in->work.events.at[i].is_grace;
    (void)snprintf(line, sizeof line, "rotate by=%zu", places);
    if (one_line && in->work.lines.count == 1 && in->stretches.count == 1 && places > 0 &&
        places < 100000)
        check_identity(subject, in, address, line, false);
    muta_passage_free(in);
}

void check_pass_laws(const struct subject *subject, const muta_score *score)
{
    uint64_t seed = 11;
    char address[128];

    for (size_t part = 0; part < score->part_count; part++)
        for (size_t staff = 1; staff <= score->parts[part].staves; staff++)
            for (size_t voice = 1; voice <= muta_score_voice_count(score, part, staff); voice++) {
                (void)snprintf(address, sizeof address, "%zu/%zu/%zu", part + 1, staff, voice);
                check_address(subject, score, address, true);
            }
    for (size_t i = 0; i < PASSAGES; i++) {
        random_address(score, &seed, address, sizeof address);
        check_address(subject, score, address, true);
    }
}

void check_null_splices(const struct subject *subject, const muta_score *score)
{
    static const char *const lines[] = {"rotate by=0 where=*", "augment by=1 where=*",
                                        "retrograde where=* | retrograde"};

    for (size_t i = 0; i < MUTA_LENGTH(lines); i++) {
        muta_score *const after = read_xml(subject->xml, subject->length);
        const muta_status status = run(after, lines[i], NULL, NULL);
        if (status == MUTA_OK) {
            const compare_counts counts = compare_trees(&score->tree, &after->tree);
            seen.null_splices++;
            check(subject, compare_total(&counts) == 0, "%s: %zu differences, %s", lines[i],
                  compare_total(&counts), counts.first_other);
        }
        muta_score_free(after);
    }
}

/* ---- cuts inside a bar ---- */

/* Where a note counts behind a moment: at its onset, or, across it, there; false before it. */
static bool is_behind(const muta_note *note, muta_moment from, bool across_too,
                      muta_fraction *onset)
{
    const muta_moment at = {note->bar, note->staff, note->onset};
    const muta_fraction end = muta_fraction_add(note->onset, note->duration);

    *onset = note->onset;
    /* Grace notes have no time, and may end what is put in. */
    if (note->flags & MUTA_NOTE_GRACE)
        return false;
    if (muta_moment_compare(at, from) >= 0)
        return true;
    *onset = from.onset;
    return across_too && note->bar == from.bar && muta_fraction_compare(end, from.onset) > 0;
}

/*
 * The tones behind a moment of a score, all parts together, by where they begin from there on in
 * bars and beats; the order of the file does not count. Of one part also what sounds across it.
 */
static uint64_t sum_behind(const muta_score *score, muta_moment from, size_t cut_part,
                           size_t *count)
{
    uint64_t sum = 0;

    for (size_t i = 0; i < score->part_count; i++)
        for (size_t j = 0; j < score->parts[i].notes.count; j++) {
            const muta_note *const note = &score->parts[i].notes.at[j];
            uint64_t mixed = (uint64_t)(note->bar - from.bar) * 1000003U + i;
            muta_fraction onset;
            muta_fraction before;
            if ((note->flags & MUTA_NOTE_REST) || !is_behind(note, from, i == cut_part, &onset) ||
                (note->tied_from != MUTA_NO_NOTE &&
                 is_behind(&score->parts[i].notes.at[note->tied_from], from, i == cut_part,
                           &before)))
                continue;
            mixed = (mixed * 1000003U) ^ (uint64_t)(onset.top * 8191 + onset.bottom);
            mixed = (mixed * 1000003U) ^ (uint64_t)(note->pitch.place * 65537 + note->pitch.alter);
            sum += mixed * 0x9e3779b97f4a7c15U;
            *count += 1;
        }
    return sum;
}

/* Where an address ends, groups taken in; false when that is not inside a full bar. */
static bool find_cut(const muta_score *score, const char *address, muta_moment *cut)
{
    muta_region *region;

    if (muta_region_parse(score, address, &region, NULL) != MUTA_OK)
        return false;
    (void)muta_region_take_groups(score, region);
    *cut = region->to;
    muta_region_free(region);
    return !score->own_grids && cut->onset.top > 0 &&
           muta_fraction_compare(score->bars[cut->bar].length,
                                 score->bars[cut->bar].metre.length) == 0;
}

void check_cuts(const struct subject *subject, const muta_score *score)
{
    const size_t bar = score->bar_count / 2 + 1;

    for (size_t part = 1; part <= score->part_count && part <= 2; part++) {
        char address[48];
        char line[96];
        muta_moment cut;
        muta_outcome outcome = {0};
        size_t counts[2] = {0, 0};
        (void)snprintf(address, sizeof address, "%zu:#%zu.1-#%zu.%zu", part, bar, bar, 1 + bar % 2);
        (void)snprintf(line, sizeof line, "sequence times=3 by=m2 where=%s", address);
        if (!find_cut(score, address, &cut))
            continue;
        muta_score *const after = read_xml(subject->xml, subject->length);
        if (run(after, line, &outcome, NULL) == MUTA_OK && outcome.bars_added > 0) {
            const uint64_t was = sum_behind(score, cut, part - 1, &counts[0]);
            cut.bar += (uint32_t)outcome.bars_added;
            const uint64_t is = sum_behind(after, cut, part - 1, &counts[1]);
            check(subject, was == is,
                  "%s: what stood behind the cut does not stand at its beats: %zu notes, %zu were",
                  line, counts[1], counts[0]);
            check_closed(subject, score, after, line);
            seen.cuts++;
        }
        muta_score_free(after);
    }
}

/* ---- half open ---- */

/* The kinds of spans whose ends must pair up; a beam says begin and end in its text. */
static const char *const paired[] = {"slur",      "tied",  "tuplet", "wedge",  "octave-shift",
                                     "glissando", "slide", "dashes", "bracket"};

enum {
    BEAM = MUTA_LENGTH(paired),
    KINDS
};

/* How many more starts than stops there are below a node, for each kind. */
static void count_ends(const muta_tree *tree, muta_node node, long *open)
{
    const muta_name name = muta_tree_name(tree, node);
    const char *const type = muta_tree_attribute(tree, node, N_TYPE);

    for (size_t i = 0; i < MUTA_LENGTH(paired) && name && type; i++)
        if (strcmp(muta_tree_name_at(tree, name), paired[i]) == 0)
            open[i] += strcmp(type, "stop") == 0                                        ? -1
                       : strcmp(type, "continue") == 0 || strcmp(type, "let-ring") == 0 ? 0
                                                                                        : 1;
    if (name == N_BEAM)
        open[BEAM] +=
            muta_names_leaf_is(tree, node, "begin") - muta_names_leaf_is(tree, node, "end");
    for (muta_node child = muta_tree_first(tree, node); child; child = muta_tree_next(tree, child))
        count_ends(tree, child, open);
}

static long count_open(const muta_score *score)
{
    long total = 0;

    for (size_t i = 0; i < score->part_count; i++) {
        long open[KINDS] = {0};
        for (size_t bar = 0; bar < score->parts[i].bar_count; bar++)
            if (score->parts[i].bars[bar].cell)
                count_ends(&score->tree, score->parts[i].bars[bar].cell, open);
        for (size_t kind = 0; kind < KINDS; kind++) {
            total += labs(open[kind]);
            if (open[kind] != 0 && getenv("MUTA_SHOW"))
                printf("  part %zu: %ld %s\n", i + 1, open[kind],
                       kind < BEAM ? paired[kind] : "beam");
        }
    }
    return total;
}

/* Ends of ties that found no other end: a start and a stop that are both loose look like a pair. */
static long count_loose_ties(const muta_score *score)
{
    long count = 0;

    for (size_t i = 0; i < score->part_count; i++)
        for (size_t j = 0; j < score->parts[i].notes.count; j++) {
            const muta_note *const note = &score->parts[i].notes.at[j];
            count += (note->flags & MUTA_NOTE_TIE_START) && note->tied_to == MUTA_NO_NOTE;
            count += (note->flags & MUTA_NOTE_TIE_STOP) && note->tied_from == MUTA_NO_NOTE;
        }
    return count;
}

/* Whether a note has a slur's end of this type and number. */
static bool has_slur(const muta_tree *tree, muta_node node, const char *type, const char *number)
{
    for (muta_node child = muta_tree_first(tree, node); child;
         child = muta_tree_next(tree, child)) {
        const muta_name name = muta_tree_name(tree, child);
        const char *const is = muta_tree_attribute(tree, child, N_TYPE);
        const char *const said = muta_tree_attribute(tree, child, N_NUMBER);
        if ((name == N_SLUR && is && strcmp(is, type) == 0 &&
             strcmp(said ? said : "1", number) == 0) ||
            (name == N_NOTATIONS && has_slur(tree, child, type, number)))
            return true;
    }
    return false;
}

/* Slurs of one number that begin in a part while another is open, in the order of the document, in
 * which the numbers count: a slur may go from voice to voice. */
static long count_doubled_slurs(const muta_score *score)
{
    static const char *const numbers[] = {"1", "2", "3", "4", "5", "6"};
    const muta_tree *const tree = &score->tree;
    long count = 0;

    for (size_t i = 0; i < score->part_count; i++)
        for (size_t n = 0; n < MUTA_LENGTH(numbers); n++) {
            bool is_open = false;
            for (size_t bar = 0; bar < score->parts[i].bar_count; bar++)
                for (muta_node child = muta_tree_first(tree, score->parts[i].bars[bar].cell); child;
                     child = muta_tree_next(tree, child)) {
                    if (has_slur(tree, child, "stop", numbers[n]))
                        is_open = false;
                    if (!has_slur(tree, child, "start", numbers[n]))
                        continue;
                    count += is_open;
                    is_open = true;
                }
        }
    return count;
}

/* How often, at most, a pass says all of the music again. */
static long count_statements(const muta_score *before, const muta_score *after)
{
    const long times = (long)((after->bar_count + before->bar_count - 1) / before->bar_count);

    return times > 2 ? times : 2;
}

/* Bars in which a part is shorter or longer than the others. */
static size_t count_unfilled(const muta_score *score)
{
    size_t count = 0;

    for (size_t i = 0; i < score->part_count && !score->own_grids; i++)
        for (size_t bar = 0; bar < score->parts[i].bar_count; bar++)
            count += score->parts[i].bars[bar].count > 0 &&
                     muta_fraction_compare(score->parts[i].bars[bar].length,
                                           score->bars[bar].length) != 0;
    return count;
}

/* How many repeats there are, of all parts together. */
static size_t count_repeats(const muta_tree *tree, muta_node node)
{
    size_t count = 0;

    for (muta_node child = muta_tree_first(tree, node); child; child = muta_tree_next(tree, child))
        count += muta_tree_name(tree, child) == N_REPEAT ? 1 : count_repeats(tree, child);
    return count;
}

/* A part that was put in has the repeats of the others. */
static bool has_as_many(size_t after, size_t before, bool has_new_part)
{
    return has_new_part ? after >= before : after == before;
}

/* Whether the last bar of the first part ends with a bar line of its own. */
static bool has_final_line(const muta_score *score)
{
    const muta_part *const part = &score->parts[0];
    bool has = false;

    for (muta_node child = muta_tree_first(&score->tree, part->bars[part->bar_count - 1].cell);
         child; child = muta_tree_next(&score->tree, child))
        has = has || muta_rewrite_is_end(&score->tree, child);
    return has;
}

void check_closed(const struct subject *subject, const muta_score *before, const muta_score *after,
                  const char *line)
{
    /* The suite has ties of every odd kind; one of them may be left over. */
    const long odd = strstr(subject->path, "/suite/") ? 1 : 0;
    const long open = count_open(after);
    const long was = count_open(before) + count_loose_ties(before) + odd;
    const long doubled = count_doubled_slurs(after);
    const long doubled_before = count_doubled_slurs(before);

    check(subject, open <= was, "%s: %ld spans or beams are half open, %ld were", line, open, was);
    /* Where slurs of the file cross already, their statements do. */
    check(subject, doubled <= count_statements(before, after) * doubled_before + 1,
          "%s: %ld slurs begin twice, %ld did", line, doubled, doubled_before);
    check(subject, count_unfilled(after) <= count_unfilled(before),
          "%s: %zu bars are not filled, %zu were not", line, count_unfilled(after),
          count_unfilled(before));
    check(subject,
          has_as_many(count_repeats(&after->tree, after->tree.root),
                      count_repeats(&before->tree, before->tree.root),
                      after->part_count > before->part_count) &&
              has_final_line(after) == has_final_line(before),
          "%s: a repeat or the last bar line is gone", line);
}

/* ---- the forced notation ---- */

/* What is compared of one note, as text: its value, or its beams. */
static void describe_note(const muta_tree *tree, muta_node node, bool beams, char *text,
                          size_t room)
{
    static const struct {
        muta_name name;
        bool beams;
        const char *sign;
    } rows[] = {{N_BEAM, true, ""},
                {N_TIME_MODIFICATION, true, ""},
                {N_TYPE, false, ""},
                {N_DOT, false, "."},
                {N_TIE, false, "~"}};

    for (muta_node child = muta_tree_first(tree, node); child;
         child = muta_tree_next(tree, child)) {
        const muta_text leaf = muta_tree_leaf(tree, child);
        for (size_t i = 0; i < MUTA_LENGTH(rows); i++) {
            const size_t used = strlen(text);
            if (rows[i].beams == beams && rows[i].name == muta_tree_name(tree, child) &&
                used + 40 < room)
                (void)snprintf(text + used, room - used, "%s%.*s", rows[i].sign,
                               (int)(leaf.length < 20 ? leaf.length : 20), leaf.at);
        }
    }
}

/* The values, or the beams, of a bar as text, voice by voice in order of time. */
static void describe(const muta_score *score, const muta_part *part, size_t bar, bool beams,
                     char *text, size_t room)
{
    const uint32_t ignored = MUTA_NOTE_CHORD | MUTA_NOTE_GRACE | MUTA_NOTE_REST;

    text[0] = '\0';
    for (size_t voice = 0; voice < part->voices.count; voice++)
        for (uint32_t i = part->bars[bar].first; i < part->bars[bar].first + part->bars[bar].count;
             i++) {
            const muta_note *const note = &part->notes.at[i];
            const size_t used = strlen(text);
            if (note->voice != voice || (note->flags & ignored) || used + 40 > room)
                continue;
            (void)snprintf(text + used, room - used, " ");
            describe_note(&score->tree, note->node, beams, text, room);
        }
}

/* Whether a bar has the same values, or beams, in both; MUTA_SHOW=1 shows where not. */
static bool is_own(const muta_score *before, const muta_score *after, size_t part, size_t bar,
                   bool beams)
{
    static char one[16384];
    static char two[16384];

    describe(before, &before->parts[part], bar, beams, one, sizeof one);
    describe(after, &after->parts[part], bar, beams, two, sizeof two);
    const bool same = strcmp(one, two) == 0;
    if (!same && getenv("MUTA_SHOW"))
        printf("own %s differ: part %zu bar #%zu\n  %s\n  %s\n", beams ? "beams" : "values",
               part + 1, bar + 1, one, two);
    return same;
}

static void count_own(const muta_score *before, const muta_score *after)
{
    for (size_t i = 0; i < before->part_count; i++)
        for (size_t bar = 0; bar < before->parts[i].bar_count; bar++) {
            if (before->parts[i].bars[bar].count == 0 || bar >= after->parts[i].bar_count)
                continue;
            seen.bars++;
            seen.own_values += is_own(before, after, i, bar, false);
            seen.own_beams += is_own(before, after, i, bar, true);
        }
}

/* What was read again must be the passage that was written. */
static void compare_again(const struct subject *subject, const muta_score *before,
                          const muta_score *again)
{
    muta_passage *const was = lift(before, NULL);
    muta_passage *const is = again ? lift(again, NULL) : NULL;

    if (was && is) {
        size_t differ = was->work.tones.count != is->work.tones.count;
        struct heard *const one = hear(was, by_sound);
        struct heard *const two = hear(is, by_sound);
        for (size_t i = 0; !differ && i < was->work.tones.count; i++)
            differ += !same_heard(&one[i], &two[i]);
        check(subject, differ == 0, "the forced notation is another passage: %zu and %zu tones",
              was->work.tones.count, is->work.tones.count);
        count_own(before, again);
        free(one);
        free(two);
    }
    check(subject, was && is, "the forced notation is not read again");
    muta_passage_free(was);
    muta_passage_free(is);
}

void check_forced_notation(const struct subject *subject)
{
    muta_score *const before = read_xml(subject->xml, subject->length);
    muta_score *const score = read_xml(subject->xml, subject->length);
    muta_passage *const passage = lift(score, NULL);
    char *xml = NULL;
    size_t length = 0;
    muta_status status = MUTA_E_DATA;

    if (passage) {
        passage->is_forced = true;
        status = muta_passages_splice((const muta_passage *const[]){passage}, 1, score, NULL, NULL);
        check(subject, status == MUTA_OK || status == MUTA_E_DATA,
              "the forced notation ends with status %d", (int)status);
        seen.refused += status != MUTA_OK;
    }
    if (status == MUTA_OK && muta_score_write_bytes(score, &xml, &length) == MUTA_OK) {
        muta_score *const again = read_xml(xml, length);
        compare_again(subject, before, again);
        muta_score_free(again);
    }
    free(xml);
    muta_passage_free(passage);
    muta_score_free(score);
    muta_score_free(before);
}

void print_laws(void)
{
    printf("laws of the passes: %zu, %zu refused; null splices: %zu; cuts inside a bar: %zu\n",
           seen.laws, seen.refused, seen.null_splices, seen.cuts);
    printf("forced notation: of %zu bars the composer's own values in %zu, beams and tuplets in "
           "%zu\n",
           seen.bars, seen.own_values, seen.own_beams);
}
