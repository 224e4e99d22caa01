/*
 * fit.c LABELS TABLE MODE [FOLD] [EPOCHS]: finds the weights of shared/hearing.txt.
 *
 * LABELS is what fit.mjs writes: scores, with what people heard in them. MODE is `start` (print the
 * weights that common practice sets), `fit` (begin from there, learn from all folds but FOLD, -1
 * for all, and print), or `check` (print how far what is paid for adds up to the cost).
 *
 * For each piece the best hearing that is nearest to the labels (cost + 3 x loss) is held against
 * the best that is far from them (cost - loss): what the first pays for becomes cheaper, what the
 * second pays for dearer, by steps that shrink with what has been learned of a weight (AdaGrad),
 * and that are pulled back to the start. The mean over the second half of the steps is the answer.
 * Loss a quarter: .5 root, .8 chord, .25 bass, .15 key (not where a corpus keeps one key), .25 a
 * change that is wrong or missing. Source of the procedure: structured learning with a loss, common
 * in the literature of parsing.
 */
#include "mutanza/mutanza.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct lesson;
static int32_t lesson_chord(const void *span, const void *chord);
static int32_t lesson_bass(const void *span, int pitch_class);
static int32_t lesson_key(const void *span, int key);
static int32_t lesson_span(const void *span);
static int32_t lesson_change(size_t onset);
#define LESSON_CHORD(sounds, span, chord) lesson_chord(span, chord)
#define LESSON_BASS(sounds, span, pitch_class) lesson_bass(span, pitch_class)
#define LESSON_KEY(search, span, key) lesson_key(span, key)
#define LESSON_SPAN(search, span) lesson_span(span)
#define LESSON_CHANGE(search, onset) lesson_change(onset)
#include "study/spans.c" /* NOLINT(bugprone-suspicious-include) */
#undef HUNDREDTHS
#define HUNDREDTHS HUNDREDTHS_OF_SEARCH
#define insert insert_state
#include "study/harmony.c" /* NOLINT(bugprone-suspicious-include) */
#include "study/study.h"

enum {
    CHORDS = MUTA_CLASSES * MUTA_CHORD_KINDS,
    PEOPLE = 2,
    LABELS = 4000,
    NEAR = 3,   /* times the loss, where the labels are sought */
    BATCH = 120 /* slices between two steps */
};

/* ---- the labels ---- */

struct label {
    double from;
    double to;
    int root;
    int kind; /* -1: none of those that are heard */
    int bass;
    int key; /* -1: not said */
};

/* What people say of a slice: shares of its time, in thousandths of a quarter. */
struct told {
    int32_t time;
    int32_t chord[CHORDS];
    int32_t root[MUTA_CLASSES];
    int32_t bass[MUTA_CLASSES];
    int32_t key[MUTA_KEYS];
    int32_t keyed;
};

struct piece {
    char corpus[32];
    int fold;
    muta_score *score;
    muta_study *study;
    struct told *told; /* up to each slice */
    int32_t *changes;  /* at each onset, in thousandths: how many of the people hear one */
    size_t slices;
};

static struct {
    struct piece *at;
    size_t count;
} pieces;

static void add_label(struct piece *piece, const struct label *label, size_t people)
{
    const muta_heard *const heard = &piece->study->heard;
    const int base = muta_fifths_class(piece->study->signatures ? piece->study->signatures[0] : 0);

    for (size_t i = 0; i < piece->slices; i++) {
        const double from = (double)heard->onsets.at[i] / (double)heard->quarter;
        const double to = (double)heard->onsets.at[i + 1] / (double)heard->quarter;
        const double begins = from > label->from ? from : label->from;
        const double ends = to < label->to ? to : label->to;
        if (ends - begins < (to - from) / 2)
            continue;
        const int32_t time = (int32_t)((to - from) * 1000 / (double)people);
        const int root = (label->root - base + MUTA_CLASSES) % MUTA_CLASSES;
        struct told *const told = &piece->told[i + 1];
        told->time += time;
        told->root[root] += time;
        if (label->kind >= 0)
            told->chord[root * MUTA_CHORD_KINDS + label->kind] += time;
        told->bass[(label->bass - base + MUTA_CLASSES) % MUTA_CLASSES] += time;
        if (label->key >= 0) {
            told->keyed += time;
            told->key[(label->key % 12 - base + 12) % 12 + (label->key < 12 ? 0 : 12)] += time;
        }
    }
}

static void add_labels(struct piece *piece, const struct label *labels, size_t count, size_t people)
{
    const muta_heard *const heard = &piece->study->heard;

    for (size_t i = 0; i < count; i++) {
        add_label(piece, &labels[i], people);
        if (i == 0 ||
            (labels[i].root == labels[i - 1].root && labels[i].kind == labels[i - 1].kind))
            continue;
        for (size_t j = 0; j < piece->slices; j++)
            if (fabs((double)heard->onsets.at[j] / (double)heard->quarter - labels[i].from) < 0.01)
                piece->changes[j] += (int32_t)(1000 / people);
    }
}

static void sum_up(struct piece *piece)
{
    for (size_t i = 1; i <= piece->slices; i++) {
        int32_t *const to = (int32_t *)&piece->told[i];
        const int32_t *const from = (const int32_t *)&piece->told[i - 1];
        for (size_t j = 0; j < sizeof(struct told) / sizeof(int32_t); j++)
            to[j] += from[j];
    }
}

static bool open_piece(struct piece *piece, const char *path)
{
    if (muta_score_read(path, &piece->score, NULL) != MUTA_OK ||
        muta_study_new(piece->score, NULL, &piece->study, NULL) != MUTA_OK ||
        piece->study->heard.onsets.count < 2)
        return false;
    piece->slices = piece->study->heard.onsets.count - 1;
    piece->told = calloc(piece->slices + 2, sizeof *piece->told);
    piece->changes = calloc(piece->slices + 2, sizeof *piece->changes);
    return piece->told && piece->changes;
}

/* The next number of a line, or 0 and false when there is none. */
static bool next_number(char **at, double *number)
{
    char *end;

    *number = strtod(*at, &end);
    const bool is_there = end != *at;
    *at = end;
    return is_there;
}

static bool read_label(char *at, struct label *label)
{
    double numbers[6];

    for (size_t i = 0; i < MUTA_LENGTH(numbers); i++)
        if (!next_number(&at, &numbers[i]))
            return false;
    *label = (struct label){numbers[0],      numbers[1],      (int)numbers[2],
                            (int)numbers[3], (int)numbers[4], (int)numbers[5]};
    return true;
}

/* Corpus, fold and path; the path points into the line. */
static const char *read_head(char *at, struct piece *piece)
{
    const size_t length = strcspn(at, " ");
    double fold;

    (void)snprintf(piece->corpus, sizeof piece->corpus, "%.*s", (int)length, at);
    at += length;
    if (!next_number(&at, &fold) || *at != ' ')
        return NULL;
    piece->fold = (int)fold;
    at[strcspn(at, "\n")] = '\0';
    return at + 1;
}

static void add_piece(struct piece piece)
{
    struct piece *const more = realloc(pieces.at, (pieces.count + 1) * sizeof *pieces.at);

    if (!more)
        exit(1);
    pieces.at = more;
    pieces.at[pieces.count++] = piece;
}

static void close_piece(struct piece *piece)
{
    muta_study_free(piece->study);
    muta_score_free(piece->score);
    free(piece->told);
    free(piece->changes);
}

/* P corpus fold path, then for each person W and labels L from to root kind bass key, then E. */
static void read_labels(const char *file)
{
    FILE *const from = fopen(file, "r");
    static struct label labels[PEOPLE][LABELS];
    size_t counts[PEOPLE] = {0};
    size_t people = 0;
    char line[2048];
    char path[2048] = "";
    struct piece piece = {0};

    while (from && fgets(line, sizeof line, from)) {
        struct label label;
        if (line[0] == 'P') {
            const char *const named = read_head(line + 2, &piece);
            (void)snprintf(path, sizeof path, "%s", named ? named : "");
            people = 0;
            memset(counts, 0, sizeof counts);
        } else if (line[0] == 'W' && people < PEOPLE) {
            people++;
        } else if (line[0] == 'L' && people > 0 && counts[people - 1] < LABELS &&
                   read_label(line + 2, &label)) {
            labels[people - 1][counts[people - 1]++] = label;
        } else if (line[0] == 'E') {
            const bool opens = open_piece(&piece, path);
            for (size_t i = 0; opens && i < people; i++)
                add_labels(&piece, labels[i], counts[i], people);
            if (opens) {
                sum_up(&piece);
                add_piece(piece);
            } else {
                close_piece(&piece);
            }
            piece = (struct piece){0};
        }
    }
    if (from)
        (void)fclose(from);
}

/* ---- the loss ---- */

static const struct piece *taught;
static int32_t factor; /* thousandths of the loss that are put on the cost */

static int32_t told_of(const muta_span *span, size_t offset)
{
    const int32_t *const to = (const int32_t *)&taught->told[span->to];
    const int32_t *const from = (const int32_t *)&taught->told[span->from];

    return to[offset / sizeof(int32_t)] - from[offset / sizeof(int32_t)];
}

static int32_t scaled(int64_t thousandths, int64_t percent)
{
    return (int32_t)(thousandths * percent / 100 * factor / 1000);
}

static int32_t lesson_chord(const void *of, const void *candidate)
{
    const muta_span *const span = of;
    const muta_candidate *const chord = candidate;

    if (factor == 0)
        return 0;
    const int64_t time = told_of(span, offsetof(struct told, time));
    const int64_t root = told_of(span, offsetof(struct told, root) + chord->root * sizeof(int32_t));
    const int64_t same =
        told_of(span, offsetof(struct told, chord) +
                          (chord->root * MUTA_CHORD_KINDS + chord->kind) * sizeof(int32_t));
    return scaled(50 * (time - root) + 80 * (time - same), 1);
}

static int32_t lesson_bass(const void *of, int pitch_class)
{
    const muta_span *const span = of;

    return factor == 0 ? 0
                       : scaled(told_of(span, offsetof(struct told, time)) -
                                    told_of(span, offsetof(struct told, bass) +
                                                      (size_t)pitch_class * sizeof(int32_t)),
                                25);
}

static int32_t lesson_key(const void *of, int key)
{
    const muta_span *const span = of;

    return factor == 0 ? 0
                       : scaled(told_of(span, offsetof(struct told, keyed)) -
                                    told_of(span, offsetof(struct told, key) +
                                                      (size_t)key * sizeof(int32_t)),
                                15);
}

static int32_t lesson_span(const void *of)
{
    const muta_span *const span = of;
    int64_t missing = 0;

    for (size_t i = span->from + 1; factor != 0 && i < span->to; i++)
        missing += taught->changes[i];
    return scaled(missing, 25);
}

static int32_t lesson_change(size_t onset)
{
    return factor == 0 ? 0 : scaled(1000 - taught->changes[onset], 25);
}

/* ---- what is paid for ---- */

struct segment {
    size_t from;
    size_t to;
    muta_candidate chord;
    int key;
};

static double weights[MUTA_WEIGHTS];

#define PLACE(block, nth) (offsetof(muta_hearing, block) / sizeof(int16_t) + (size_t)(nth))

static void quantise(muta_hearing *hearing, const double *from)
{
    int16_t *const to = (int16_t *)hearing;

    for (size_t i = 0; i < MUTA_WEIGHTS; i++) {
        const double rounded = floor(from[i] * 100 + 0.5);
        to[i] = (int16_t)(rounded > 30000 ? 30000 : rounded < -30000 ? -30000 : rounded);
    }
}

/* The way that the search took, span by span. */
static size_t walk(const struct search *search, struct segment *segments, int64_t *cost)
{
    const struct moment *const end = &search->moments[search->sounds.count];
    size_t state = 0;
    int key = 0;
    size_t count = 0;

    for (size_t i = 0; i < end->count; i++)
        for (int k = 0; k < MUTA_KEYS; k++)
            if (price_end(search, &end->states[i], k) <
                price_end(search, &end->states[state], key)) {
                state = i;
                key = k;
            }
    *cost = price_end(search, &end->states[state], key);
    for (size_t at = search->sounds.count; at > 0;) {
        const struct state *const of = &search->moments[at].states[state];
        const uint32_t back = of->back[key];
        segments[count++] = (struct segment){at - (back >> 16), at, of->chord, key};
        state = back >> 8 & 255;
        key = (int)(back & 255);
        at = segments[count - 1].from;
    }
    for (size_t i = 0; i < count / 2; i++) {
        const struct segment held = segments[i];
        segments[i] = segments[count - 1 - i];
        segments[count - 1 - i] = held;
    }
    return count;
}

static void pay(double *ledger, size_t place, double amount)
{
    ledger[place] += amount;
}

static size_t count_sounding(const muta_heard *heard, int64_t at)
{
    size_t sounding = 0;

    for (size_t i = 0; i < heard->tones.count && heard->tones.at[i].from <= at; i++)
        sounding += heard->tones.at[i].to > at;
    return sounding < 1 ? 1 : sounding < 16 ? sounding : 16;
}

/* The tones outside a chord, slice by slice. */
static void pay_outside(const struct search *search, const struct segment *segment, double sign,
                        double *ledger)
{
    const muta_heard *const heard = search->heard;
    const int base = muta_fifths_class(search->sounds.base);

    for (size_t i = segment->from; i < segment->to; i++) {
        const int64_t from = heard->onsets.at[i];
        const int64_t to = heard->onsets.at[i + 1];
        const double thinned = pow((double)count_sounding(heard, from), -0.3);
        for (size_t j = 0; j < heard->tones.count && heard->tones.at[j].from <= from; j++) {
            const muta_heard_tone *const tone = &heard->tones.at[j];
            const int pitch_class = (tone->pitch_class - base + MUTA_CLASSES) % MUTA_CLASSES;
            if (tone->to <= from || muta_span_tone(&segment->chord, pitch_class) < MUTA_CHORD_TONES)
                continue;
            const int64_t end = tone->to < to ? tone->to : to;
            const double quarters = (double)(end - from) / (double)heard->quarter;
            const double begins = tone->from == from ? 0.1 : 0;
            pay(ledger, PLACE(outside, muta_sounds_outside(heard, tone)),
                sign * (quarters + begins) * thinned);
        }
    }
}

static void pay_span(const struct search *search, const struct segment *segment, double sign,
                     double *ledger)
{
    const muta_sounds *const sounds = &search->sounds;
    const muta_chord_row *const row = muta_chord_row_of((muta_chord_kind)segment->chord.kind);
    const muta_slice *const slice = &sounds->slices[segment->from];
    const int kind = segment->chord.kind;
    const int root = segment->chord.root;
    muta_candidate chord = segment->chord;
    muta_span span = {.from = segment->from,
                      .to = segment->to,
                      .lowest = INT16_MAX,
                      .strongest = MUTA_LEVELS - 1};
    double within = 0;
    double lows = 0;

    for (size_t i = span.from; i < span.to; i++) {
        if (sounds->slices[i].low < span.lowest)
            span.lowest = sounds->slices[i].low;
        if (i > span.from && sounds->slices[i].level < span.strongest)
            span.strongest = sounds->slices[i].level;
    }
    muta_span_read(sounds, &span);
    pay(ledger, PLACE(kind, kind), sign);
    pay(ledger, PLACE(lasting, kind), sign * (span.lasts < 4000 ? span.lasts : 4000) / 1000);
    for (int i = 0; i < MUTA_CLASSES; i++)
        pay(ledger, PLACE(tone, kind * MUTA_CLASSES + i), sign * span.mass[root + i] / 1000);
    for (int i = 0; i < row->count; i++) {
        const int above = root + row->classes[i];
        const int tone = kind * MUTA_CHORD_TONES + i;
        pay(ledger, PLACE(present, tone * MUTA_SHARES + span.share[above]), sign);
        pay(ledger, PLACE(late, tone), sign * span.late[above] / 100);
        within += span.mass[above];
    }
    pay(ledger, PLACE(foreign, muta_span_share((int64_t)(span.all - within), span.all)), sign);
    pay(ledger, PLACE(misspelt, kind), sign * muta_span_misspelt(sounds, &span, 0, &chord) / 1000);
    int32_t masses[MUTA_STEPS * 2 * 2];
    muta_span_steps(&span, &chord, masses);
    for (int i = 0; i < MUTA_STEPS * 2 * 2; i++)
        pay(ledger, PLACE(step, i), sign * masses[i] / 100);
    for (int i = 0; i < MUTA_CLASSES; i++)
        for (int j = 0; j < MUTA_STEPS * MUTA_WAYS; j++)
            pay(ledger, PLACE(goes, (kind * MUTA_CLASSES + i) * MUTA_STEPS * MUTA_WAYS + j),
                sign * span.steps[root + i][j] / 100);
    const int bass = segment->chord.low;
    for (int i = 0; i < MUTA_CLASSES; i++)
        lows += sounds->sums[span.to].low[i] - sounds->sums[span.from].low[i];
    if (slice->low != INT16_MAX && slice->low % MUTA_CLASSES == bass)
        pay(ledger, PLACE(bass, 0), sign);
    if (span.lowest != INT16_MAX && span.lowest % MUTA_CLASSES == bass)
        pay(ledger, PLACE(bass, 1), sign);
    if (lows > 0)
        pay(ledger, PLACE(bass, 2),
            sign * (sounds->sums[span.to].low[bass] - sounds->sums[span.from].low[bass]) / lows);
    if (slice->standing != INT16_MAX && slice->standing % MUTA_CLASSES == bass)
        pay(ledger, PLACE(bass, 3), sign);
    pay(ledger, PLACE(inversion, kind * MUTA_CHORD_TONES + segment->chord.bass), sign);
    if (slice->standing != INT16_MAX)
        pay(ledger,
            PLACE(standing, muta_span_tone(&segment->chord, slice->standing % MUTA_CLASSES)), sign);
    pay(ledger, PLACE(length, slice->pulse * MUTA_LENGTHS + span.length), sign);
    pay(ledger, PLACE(across, across(slice, span.strongest)), sign);
    for (int i = 0; i < MUTA_CLASSES; i++)
        pay(ledger, PLACE(scale, mode_of(segment->key) * MUTA_CLASSES + (size_t)i),
            sign * span.mass[segment->key % MUTA_CLASSES + i] / 1000);
    pay(ledger, PLACE(signature, far_from(search, segment->key, signature_at(search, span.from))),
        sign * span.lasts / 1000);
    pay(ledger, PLACE(degree, degree_of(segment->key, root) * MUTA_CHORD_KINDS + (size_t)kind),
        sign);
    pay(ledger,
        PLACE(degree_bass, degree_bass(segment->key, root, muta_triads[kind], segment->chord.bass)),
        sign);
}

static void pay_edges(const struct search *search, size_t onset, int news, double sign,
                      double *ledger)
{
    size_t places[MUTA_EDGES];

    muta_sounds_edges(&search->sounds, onset, news, places);
    pay(ledger, PLACE(place, places[0]), sign);
    pay(ledger, PLACE(low, places[1]), sign);
    pay(ledger, PLACE(attacks, places[2]), sign);
    pay(ledger, PLACE(fresh, places[3]), sign);
    pay(ledger, PLACE(longest, places[4]), sign);
    pay(ledger, PLACE(alike, places[5]), sign);
}

static void pay_change(const struct search *search, const struct segment *before,
                       const struct segment *here, double sign, double *ledger)
{
    const muta_slice *const slice = &search->sounds.slices[here->from];
    const muta_candidate *const from = &before->chord;
    const muta_candidate *const to = &here->chord;

    if (before->key != here->key) {
        pay(ledger, PLACE(new_key, key_change(before->key, here->key)), sign);
        pay(ledger, PLACE(key_place, slice->level), sign);
    }
    if (!is_same_chord(from, to)) {
        pay(ledger, PLACE(change, 0), sign);
        pay(ledger, PLACE(motion, motion(from, to)), sign);
        pay(ledger, PLACE(motion_place, motion_place(from, to, slice->third)), sign);
        pay(ledger, PLACE(basses, basses(from, to, 0)), sign);
        pay(ledger, PLACE(bass_motion, bass_motion(from, to, 0, slice->third)), sign);
        pay_edges(search, here->from, 0, sign, ledger);
        return;
    }
    pay(ledger, PLACE(kind, to->kind), -sign);
    pay(ledger, PLACE(degree, degree_of(here->key, to->root) * MUTA_CHORD_KINDS + (size_t)to->kind),
        -sign);
    if (from->bass != to->bass) {
        pay(ledger, PLACE(new_bass, slice->level), sign);
        pay(ledger, PLACE(basses, basses(from, to, 1)), sign);
        pay(ledger, PLACE(bass_motion, bass_motion(from, to, 1, slice->third)), sign);
        pay_edges(search, here->from, 1, sign, ledger);
    } else {
        pay(ledger, PLACE(goes_on, 0), sign);
        pay(ledger, PLACE(inversion, to->kind * MUTA_CHORD_TONES + to->bass), -sign);
    }
}

/* Hears a piece with some of the loss on its costs, and pays for what was heard. */
static int64_t hear(const struct piece *piece, int32_t lesson, double sign, double *ledger)
{
    struct search *const search = calloc(1, sizeof *search);
    struct segment *const segments = calloc(piece->slices + 1, sizeof *segments);
    muta_heard_chords chords = {0};
    int64_t cost = 0;

    taught = piece;
    factor = lesson;
    quantise(&search->hearing, weights);
    start(search, &piece->study->heard,
          piece->study->passage->keys.count > 0 ? piece->study->signatures : NULL);
    if (run(search, &chords) != MUTA_OK)
        exit(1);
    const size_t count = walk(search, segments, &cost);
    factor = 0;
    if (search->signatures)
        pay(ledger, PLACE(first, far_from(search, segments[0].key, signature_at(search, 0))), sign);
    for (size_t i = 0; i < count; i++) {
        pay_outside(search, &segments[i], sign, ledger);
        pay_span(search, &segments[i], sign, ledger);
        if (i > 0)
            pay_change(search, &segments[i - 1], &segments[i], sign, ledger);
    }
    pay(ledger, PLACE(end, end_of(&segments[count - 1].chord, segments[count - 1].key)), sign);
    stop(search);
    free(search);
    free(segments);
    return cost;
}

/* ---- where it begins ---- */

static double outside_at_first(size_t reached, size_t left, size_t third, bool held)
{
    const bool in = reached >= MUTA_MOTION_UP;
    const bool out = left >= MUTA_MOTION_UP;

    if (left == MUTA_MOTION_DOWN && held)
        return 2.1;
    if (in && out)
        return reached != left ? 2.4 : third == 0 ? 2.1 : 1.0;
    if (reached == MUTA_MOTION_SAME && out)
        return 1.0;
    return out ? 3.2 : 4.5;
}

static void start_kinds(void)
{
    for (int kind = 0; kind < MUTA_CHORD_KINDS; kind++) {
        weights[PLACE(kind, kind)] = kind < 2 ? 0 : kind > 4 ? .9 : .3;
        weights[PLACE(misspelt, kind)] = 4;
        for (int i = 0; i < muta_chord_row_of((muta_chord_kind)kind)->count; i++) {
            const int tone = kind * MUTA_CHORD_TONES + i;
            weights[PLACE(present, tone * MUTA_SHARES)] = i == 2 ? .2 : 1;
            weights[PLACE(present, tone * MUTA_SHARES + 1)] = i == 2 ? .1 : .6;
            weights[PLACE(inversion, tone)] = i == 0 ? 0 : i == 1 ? .1 : .4;
            weights[PLACE(late, tone)] = i == 3 ? .6 : 0;
        }
    }
}

static void start_places(void)
{
    static const double places[MUTA_LEVELS] = {.1, .2, .2, .9, 1.5, 4, 4};

    for (int i = 0; i < MUTA_LEVELS; i++)
        weights[PLACE(new_bass, i)] = .3;
    for (int i = 0; i < MUTA_NEWS * MUTA_METRES * MUTA_LEVELS; i++)
        weights[PLACE(place, i)] = places[i % MUTA_LEVELS];
    for (int pulse = 0; pulse < MUTA_PULSES; pulse++)
        for (int level = 0; level < MUTA_LEVELS; level++)
            for (int inside = 0; inside < level; inside++)
                weights[PLACE(across, (pulse * MUTA_LEVELS + level) * MUTA_LEVELS + inside)] =
                    1.2 * (level - inside);
}

static bool is_own(int key, int root, int kind)
{
    const muta_chord_row *const row = muta_chord_row_of((muta_chord_kind)kind);
    bool own = true;

    for (int i = 0; i < row->count; i++)
        own = own && muta_harmony_has(key, (root + row->classes[i]) % MUTA_CLASSES);
    return own;
}

static void start_key(int key)
{
    for (int i = 0; i < MUTA_CLASSES; i++) {
        const double of_own = i == 0 ? 0 : i == 7 ? .05 : .5;
        weights[PLACE(scale, key + i)] = muta_harmony_has(key, i) ? 0 : .2;
        for (int kind = 0; kind < MUTA_CHORD_KINDS; kind++)
            weights[PLACE(degree, (key + i) * MUTA_CHORD_KINDS + kind)] =
                is_own(key, i, kind) ? of_own : 1.2;
    }
}

static void start_keys(void)
{
    for (int key = 0; key < MUTA_KEYS; key += MUTA_CLASSES)
        start_key(key);
    for (int i = 0; i < MUTA_MODES * MUTA_MODES * MUTA_CLASSES; i++)
        weights[PLACE(new_key, i)] = 2;
    for (int mode = 0; mode < MUTA_MODES; mode++)
        for (int far = 0; far < MUTA_FAR; far++) {
            weights[PLACE(signature, mode * MUTA_FAR + far)] = .05 * far;
            weights[PLACE(first, mode * MUTA_FAR + far)] = 2 * far;
        }
}

/* As common practice and the first figures of the search had it; for the fit to begin from. */
static void set_start(void)
{
    for (size_t i = 0; i < (size_t)MUTA_SEATS * 150; i++)
        weights[PLACE(outside, i)] = outside_at_first(i / 30 % 5, i / 6 % 5, i / 2 % 3, i % 2 == 1);
    weights[PLACE(bass, 0)] = -.5;
    weights[PLACE(bass, 1)] = -.7;
    weights[PLACE(bass, 2)] = -.6;
    weights[PLACE(change, 0)] = .5;
    weights[PLACE(goes_on, 0)] = .1;
    start_kinds();
    start_places();
    start_keys();
}

/* ---- the fit ---- */

static void print_table(const double *from)
{
    muta_hearing hearing;
    const int16_t *at = (const int16_t *)&hearing;

    quantise(&hearing, from);
    printf("# Weights of the search for chords and keys: block | hundredths ...\n#\n"
           "# Found by a fit on scores with people's labels: node tests/reference/fit.mjs does it "
           "again.\n# src/study/hearing.h says what each block weighs, and in which order.\n");
#define BLOCK(name, size)                                                                          \
    for (size_t i = 0; i < (size_t)(size); i++)                                                    \
        printf("%s%d", i % 24 == 0 ? (i ? "\n" #name " | " : #name " | ") : " ", *at++);           \
    printf("\n");
    MUTA_HEARING_BLOCKS(BLOCK)
#undef BLOCK
}

static void check(void)
{
    double worst = 0;

    for (size_t i = 0; i < pieces.count; i += 7) {
        static double ledger[MUTA_WEIGHTS];
        muta_hearing hearing;
        double sum = 0;
        memset(ledger, 0, sizeof ledger);
        const int64_t cost = hear(&pieces.at[i], 0, 1, ledger);
        quantise(&hearing, weights);
        for (size_t j = 0; j < MUTA_WEIGHTS; j++)
            sum += ledger[j] * ((const int16_t *)&hearing)[j] * 10;
        const double off = fabs(sum - (double)cost) / (double)pieces.at[i].slices;
        worst = off > worst ? off : worst;
    }
    printf("what is paid for is at most %.1f thousandths a slice away from the cost\n", worst);
}

static double begun[MUTA_WEIGHTS];   /* what a fit is pulled back to */
static double learned[MUTA_WEIGHTS]; /* squares of all steps so far, and 1 */
static double mean[MUTA_WEIGHTS];    /* the sum over the second half of the steps */

static void shuffle(size_t *order, size_t count, uint32_t *random)
{
    for (size_t i = count; i > 1; i--) {
        *random = *random * 1664525U + 1013904223U;
        const size_t other = (*random >> 8) % i;
        const size_t held = order[i - 1];
        order[i - 1] = order[other];
        order[other] = held;
    }
}

/* One step, and the ledger is clear again. */
static void step(double rate, double *ledger)
{
    for (size_t i = 0; i < MUTA_WEIGHTS; i++) {
        if (ledger[i] == 0 && weights[i] == begun[i])
            continue;
        const double by = -ledger[i] - 0.02 * (weights[i] - begun[i]);
        learned[i] += by * by;
        weights[i] += rate * by / sqrt(learned[i]);
    }
    memset(ledger, 0, sizeof learned);
}

/* Once through the pieces, a step for each batch of slices; how many steps it was. */
static size_t learn(const size_t *order, size_t count, double rate, bool sums)
{
    static double ledger[MUTA_WEIGHTS];
    size_t heard = 0;
    size_t steps = 0;

    for (size_t nth = 0; nth < count; nth++) {
        const struct piece *const piece = &pieces.at[order[nth]];
        (void)hear(piece, NEAR * 1000, 1, ledger);
        (void)hear(piece, -1000, -1, ledger);
        heard += piece->slices;
        if (heard < BATCH && nth + 1 < count)
            continue;
        step(rate, ledger);
        steps++;
        heard = 0;
        for (size_t i = 0; sums && i < MUTA_WEIGHTS; i++)
            mean[i] += weights[i];
    }
    return steps;
}

static void fit(int fold, int epochs)
{
    size_t *const order = calloc(pieces.count + 1, sizeof *order);
    size_t steps = 0;
    size_t count = 0;
    uint32_t random = 1;

    if (!order)
        exit(1);
    for (size_t i = 0; i < pieces.count; i++)
        if (pieces.at[i].fold != fold)
            order[count++] = i;
    memcpy(begun, weights, sizeof begun);
    for (size_t i = 0; i < MUTA_WEIGHTS; i++)
        learned[i] = 1;
    for (int epoch = 0; epoch < epochs; epoch++) {
        const bool sums = epoch * 2 >= epochs;
        const double rate = 0.05 * (!sums ? 1 : epoch * 4 < epochs * 3 ? .5 : .25);
        shuffle(order, count, &random);
        const size_t taken = learn(order, count, rate, sums);
        steps += sums ? taken : 0;
        (void)fprintf(stderr, "epoch %d of %d\n", epoch + 1, epochs);
    }
    for (size_t i = 0; i < MUTA_WEIGHTS; i++)
        weights[i] = steps ? mean[i] / (double)steps : weights[i];
    free(order);
}

static bool read_start(const char *table)
{
    muta_hearing hearing;

    if (!muta_hearing_read(table, &hearing))
        return false;
    for (size_t i = 0; i < MUTA_WEIGHTS; i++)
        weights[i] = ((const int16_t *)&hearing)[i] / 100.0;
    return true;
}

int main(int count, char **words)
{
    const char *const mode = count > 2 ? words[2] : "start";

    set_start();
    if (strcmp(mode, "start") != 0)
        read_labels(words[1]);
    if (strcmp(mode, "check") == 0 && read_start(muta_table_hearing))
        check();
    if (strcmp(mode, "fit") == 0)
        fit(count > 3 ? (int)strtol(words[3], NULL, 10) : -1,
            count > 4 ? (int)strtol(words[4], NULL, 10) : 6);
    if (strcmp(mode, "check") != 0)
        print_table(weights);
    return 0;
}
