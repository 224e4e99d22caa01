/*
 * motifs.c: patterns of steps and durations that the tune says again, as they are, transposed,
 * turned over, backwards, in longer or shorter values. A window of tones has a hash for each way in
 * which it may be said; equal hashes are looked up, so that the work is near linear.
 */
#include "study/study.h"
#include <stdlib.h>

enum {
    SHORTEST = 3, /* tones */
    LONGEST = 9,
    MOST_BARS = 2,
    FEW = 3, /* motifs that are told */
    NO_HASH = 0
};

const char *const muta_motif_names[] = {[MUTA_MOTIF_SAME] = "same",
                                        [MUTA_MOTIF_INVERTED] = "inverted",
                                        [MUTA_MOTIF_RETROGRADE] = "retrograde",
                                        [MUTA_MOTIF_RETROGRADE_INVERTED] = "retrograde-inverted",
                                        [MUTA_MOTIF_AUGMENTED] = "augmented",
                                        [MUTA_MOTIF_DIMINISHED] = "diminished",
                                        [MUTA_MOTIF_TRANSPOSED] = "transposed"};

/* A window of tones, by its hash. */
struct window {
    uint64_t hash;
    uint32_t first;
};

struct finding {
    muta_study *study;
    int64_t *lengths;                    /* by tone of the tune: from its onset to the next one's */
    bool *taken;                         /* by tone: a motif found before has it */
    struct window *windows[LONGEST + 1]; /* by length: in order of hash and place */
    size_t counts[LONGEST + 1];
    MUTA_VEC(uint32_t) tried; /* tones that a pattern takes while it is weighed */
};

/* A pattern, and how well it would do. */
struct pattern {
    uint32_t first;
    uint32_t count;
    int64_t merit;
};

static int32_t step_at(const struct finding *finding, uint32_t nth)
{
    return muta_look_tone(finding->study, nth + 1)->place -
           muta_look_tone(finding->study, nth)->place;
}

static uint64_t mix(uint64_t hash, int64_t value)
{
    return (hash ^ (uint64_t)value) * UINT64_C(0x100000001b3);
}

/* What a window's hash would be if it were said in this form; NO_HASH when that cannot be. */
static uint64_t hash_as(const struct finding *finding, uint32_t first, uint32_t count,
                        muta_motif_form form)
{
    const bool is_turned = form == MUTA_MOTIF_INVERTED || form == MUTA_MOTIF_RETROGRADE_INVERTED;
    const bool is_back = form == MUTA_MOTIF_RETROGRADE || form == MUTA_MOTIF_RETROGRADE_INVERTED;
    uint64_t hash = UINT64_C(0xcbf29ce484222325);

    for (uint32_t i = 0; i + 1 < count; i++) {
        const uint32_t at = is_back ? first + count - 2 - i : first + i;
        const int32_t step = step_at(finding, at);
        int64_t length = finding->lengths[is_back ? at + 1 : at];
        if (form == MUTA_MOTIF_DIMINISHED && length % 2 != 0)
            return NO_HASH;
        length = form == MUTA_MOTIF_AUGMENTED    ? length * 2
                 : form == MUTA_MOTIF_DIMINISHED ? length / 2
                                                 : length;
        hash = mix(mix(hash, is_turned != is_back ? -step : step), length);
    }
    return hash == NO_HASH ? 1 : hash;
}

/* Whether the tones hang together: no long rest between them, one line, two bars at most. */
static bool is_whole(const struct finding *finding, uint32_t first, uint32_t count)
{
    const muta_study *const study = finding->study;
    const muta_heard_tone *const head = muta_look_tone(study, first);
    const muta_heard_bar *const bar = muta_heard_bar_at(&study->heard, head->from);

    for (uint32_t i = first; i + 1 < first + count; i++) {
        const muta_heard_tone *const tone = muta_look_tone(study, i);
        const muta_heard_tone *const next = muta_look_tone(study, i + 1);
        if (next->line != tone->line || next->from - tone->to >= study->heard.quarter)
            return false;
    }
    return muta_look_tone(study, first + count - 1)->from - head->from <
           MOST_BARS * (bar->to - bar->from + bar->offset);
}

static int by_hash(const void *a, const void *b)
{
    const struct window *const one = a;
    const struct window *const two = b;

    if (one->hash != two->hash)
        return one->hash < two->hash ? -1 : 1;
    return one->first < two->first ? -1 : one->first > two->first;
}

static muta_status find_windows(struct finding *finding, uint32_t count)
{
    muta_study *const study = finding->study;
    struct window *const windows =
        muta_arena_take_array(&study->arena, study->tune.count + 1, sizeof *windows);
    size_t found = 0;

    if (!windows)
        return MUTA_E_MEMORY;
    for (uint32_t first = 0; first + count <= study->tune.count; first++)
        if (is_whole(finding, first, count))
            windows[found++] =
                (struct window){hash_as(finding, first, count, MUTA_MOTIF_SAME), first};
    qsort(windows, found, sizeof *windows, by_hash);
    finding->windows[count] = windows;
    finding->counts[count] = found;
    return MUTA_OK;
}

/* The first window of a hash; the end when there is none. */
static size_t first_of(const struct finding *finding, uint32_t count, uint64_t hash)
{
    size_t low = 0;
    size_t high = finding->counts[count];

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (finding->windows[count][middle].hash < hash)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static bool is_free(const struct finding *finding, uint32_t first, uint32_t count)
{
    for (uint32_t i = first; i < first + count; i++)
        if (finding->taken[i])
            return false;
    return true;
}

/* Only what has a face can be known again: two values, a turn or a leap. */
static int64_t face_of(const struct finding *finding, uint32_t first, uint32_t count)
{
    bool has_values = false;
    bool has_turn = false;
    bool has_leap = false;

    for (uint32_t i = first; i + 1 < first + count; i++) {
        const int32_t step = step_at(finding, i);
        has_leap = has_leap || abs(step) > 1;
        if (i == first)
            continue;
        has_values = has_values || finding->lengths[i] != finding->lengths[i - 1];
        has_turn = has_turn || (step > 0) != (step_at(finding, i - 1) > 0);
    }
    return 2 * has_values + has_turn + has_leap;
}

static muta_status add_place(struct finding *finding, muta_motif *motif, uint32_t first,
                             muta_motif_form form)
{
    muta_motif_place *const place = MUTA_PUSH(&finding->study->arena, &motif->places);

    if (!place)
        return MUTA_E_MEMORY;
    *place = (muta_motif_place){first, form};
    return MUTA_OK;
}

/* How much a place of a form says for a pattern: what is turned over or backwards is harder to
 * hear. */
static const int64_t weights[MUTA_MOTIF_FORMS] = {
    [MUTA_MOTIF_SAME] = 4,       [MUTA_MOTIF_INVERTED] = 2,
    [MUTA_MOTIF_RETROGRADE] = 1, [MUTA_MOTIF_RETROGRADE_INVERTED] = 1,
    [MUTA_MOTIF_AUGMENTED] = 2,  [MUTA_MOTIF_DIMINISHED] = 2};

static muta_status take_tones(struct finding *finding, uint32_t first, uint32_t count)
{
    for (uint32_t i = first; i < first + count; i++) {
        uint32_t *const tone = MUTA_PUSH(&finding->study->arena, &finding->tried);
        if (!tone)
            return MUTA_E_MEMORY;
        *tone = i;
        finding->taken[i] = true;
    }
    return MUTA_OK;
}

/* Takes the places of a form that are free still; into `motif`, where that is not NULL. */
static muta_status take_form(struct finding *finding, const struct pattern *pattern,
                             muta_motif_form form, muta_motif *motif, int64_t *merit)
{
    const uint64_t plain = hash_as(finding, pattern->first, pattern->count, MUTA_MOTIF_SAME);
    const uint64_t hash = hash_as(finding, pattern->first, pattern->count, form);
    const struct window *const windows = finding->windows[pattern->count];

    if (hash == NO_HASH || (form != MUTA_MOTIF_SAME && hash == plain))
        return MUTA_OK;
    for (size_t i = first_of(finding, pattern->count, hash);
         i < finding->counts[pattern->count] && windows[i].hash == hash; i++) {
        if (!is_free(finding, windows[i].first, pattern->count))
            continue;
        *merit += weights[form];
        MUTA_TRY(take_tones(finding, windows[i].first, pattern->count));
        if (motif)
            MUTA_TRY(add_place(finding, motif, windows[i].first, form));
    }
    return MUTA_OK;
}

static muta_status take_all(struct finding *finding, const struct pattern *pattern,
                            muta_motif *motif, int64_t *merit)
{
    finding->tried.count = 0;
    for (int form = 0; form < MUTA_MOTIF_FORMS; form++)
        MUTA_TRY(take_form(finding, pattern, (muta_motif_form)form, motif, merit));
    return MUTA_OK;
}

/* Many places, many tones, and a face: three tones need more of one. */
static muta_status weigh(struct finding *finding, struct pattern *pattern)
{
    const int64_t face = face_of(finding, pattern->first, pattern->count);
    int64_t places = 0;

    pattern->merit = 0;
    if (face < (pattern->count == SHORTEST ? 3 : 2))
        return MUTA_OK;
    MUTA_TRY(take_all(finding, pattern, NULL, &places));
    for (size_t i = 0; i < finding->tried.count; i++)
        finding->taken[finding->tried.at[i]] = false;
    places -= weights[MUTA_MOTIF_SAME];
    pattern->merit = places < 2 ? 0 : places * (int64_t)(pattern->count - 2) * (face + 1);
    return MUTA_OK;
}

static muta_status find_best(struct finding *finding, struct pattern *best)
{
    *best = (struct pattern){0, 0, 0};
    for (uint32_t count = SHORTEST; count <= LONGEST; count++)
        for (size_t i = 0; i < finding->counts[count]; i++) {
            const struct window *const window = &finding->windows[count][i];
            struct pattern pattern = {window->first, count, 0};
            if ((i > 0 && window[-1].hash == window->hash) ||
                !is_free(finding, window->first, count))
                continue;
            MUTA_TRY(weigh(finding, &pattern));
            if (pattern.merit > best->merit ||
                (pattern.merit == best->merit && pattern.merit > 0 && pattern.first < best->first))
                *best = pattern;
        }
    return MUTA_OK;
}

static int by_place(const void *a, const void *b)
{
    const muta_motif_place *const one = a;
    const muta_motif_place *const two = b;

    return one->first < two->first ? -1 : one->first > two->first;
}

/* The first place is the model; others on its pitch are the same, or else transposed. */
static void name_forms(const struct finding *finding, muta_motif *motif)
{
    const muta_study *const study = finding->study;
    const int32_t model = muta_look_tone(study, motif->first)->midi;

    for (size_t i = 0; i < motif->places.count; i++) {
        muta_motif_place *const place = &motif->places.at[i];
        if (place->form == MUTA_MOTIF_SAME && muta_look_tone(study, place->first)->midi != model)
            place->form = MUTA_MOTIF_TRANSPOSED;
    }
}

static muta_status add_motif(struct finding *finding, const struct pattern *pattern)
{
    muta_study *const study = finding->study;
    muta_motif *const motif = MUTA_PUSH(&study->arena, &study->motifs);
    int64_t ignored = 0;

    if (!motif)
        return MUTA_E_MEMORY;
    *motif = (muta_motif){.first = pattern->first, .count = pattern->count};
    MUTA_TRY(take_all(finding, pattern, motif, &ignored));
    muta_sort(motif->places.at, motif->places.count, sizeof *motif->places.at, by_place);
    name_forms(finding, motif);
    return MUTA_OK;
}

muta_status muta_motifs_find(muta_study *study)
{
    struct finding finding = {.study = study};
    const size_t count = study->tune.count;

    finding.lengths = muta_arena_take_array(&study->arena, count + 1, sizeof *finding.lengths);
    finding.taken = muta_arena_take_array(&study->arena, count + 1, sizeof *finding.taken);
    if (!finding.lengths || !finding.taken)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++)
        finding.lengths[i] =
            (i + 1 < count ? muta_look_tone(study, i + 1)->from : muta_look_tone(study, i)->to) -
            muta_look_tone(study, i)->from;
    for (uint32_t length = SHORTEST; length <= LONGEST; length++)
        MUTA_TRY(find_windows(&finding, length));
    for (int i = 0; i < FEW; i++) {
        struct pattern best;
        MUTA_TRY(find_best(&finding, &best));
        if (best.merit == 0)
            break;
        MUTA_TRY(add_motif(&finding, &best));
    }
    return MUTA_OK;
}
