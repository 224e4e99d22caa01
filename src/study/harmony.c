/* harmony.c: the search for chords and keys. */
#include "study/hearing.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

#ifndef LESSON_SPAN
#define LESSON_SPAN(search, span) 0 /* a teacher's: tests/reference/fit.c */
#define LESSON_KEY(search, span, key) 0
#define LESSON_CHANGE(search, onset) 0
#endif

enum {
    CANDIDATES = 4, /* of a span */
    KEPT = 6,       /* states of a moment that are followed */
    FARTHEST = 250, /* onsets that a span may hold */
    FEWEST_QUARTERS = 4,
    HUNDREDTHS = 10,
    HOPELESS = 1 << 30
};

/* A chord that ends at a moment, in each key, with the best way there. */
struct state {
    muta_candidate chord;
    int32_t cost[MUTA_KEYS];
    uint32_t back[MUTA_KEYS]; /* how many onsets before, which state there, which key */
};

struct moment {
    struct state *states;
    size_t count;
    size_t room;
};

struct search {
    muta_sounds sounds;
    muta_hearing hearing;
    muta_heard *heard;
    const int32_t *signatures;
    struct moment *moments;
    int32_t degrees[MUTA_CLASSES][MUTA_CHORD_KINDS][MUTA_KEYS];
    int32_t basses[MUTA_CLASSES][MUTA_TRIADS][MUTA_CHORD_TONES][MUTA_KEYS];
    int32_t away[MUTA_KEYS][MUTA_KEYS]; /* from key to key */
    int32_t least_away;                 /* of two that differ */
    int32_t most_away;
    int32_t fifths[MUTA_KEYS]; /* of their signatures */
};

/* ---- from chord to chord ---- */

static bool is_same_chord(const muta_candidate *a, const muta_candidate *b)
{
    return a->root == b->root && a->kind == b->kind;
}

static size_t up(int from, int to)
{
    return (size_t)((to - from + MUTA_CLASSES) % MUTA_CLASSES);
}

static size_t bass_motion(const muta_candidate *from, const muta_candidate *to, int news,
                          uint8_t third)
{
    return ((size_t)news * MUTA_CLASSES + up(from->low, to->low)) * MUTA_THIRDS + third;
}

static size_t basses(const muta_candidate *from, const muta_candidate *to, int news)
{
    return ((size_t)news * MUTA_CHORD_TONES + from->bass) * MUTA_CHORD_TONES + to->bass;
}

static size_t motion(const muta_candidate *from, const muta_candidate *to)
{
    return (size_t)(from->kind * MUTA_CHORD_KINDS + to->kind) * MUTA_CLASSES +
           up(from->root, to->root);
}

static size_t motion_place(const muta_candidate *from, const muta_candidate *to, uint8_t third)
{
    return ((size_t)(muta_triads[from->kind] * MUTA_TRIADS + muta_triads[to->kind]) * MUTA_CLASSES +
            up(from->root, to->root)) *
               MUTA_THIRDS +
           third;
}

/* Whether what lies lowest is no bass but what is struck over one that was left, as in a waltz:
 * more than an octave above the lowest tone of its bar so far. */
static bool is_still_bass(const muta_slice *slice, const muta_candidate *before)
{
    return slice->low != INT16_MAX && slice->low - slice->standing > MUTA_CLASSES &&
           slice->standing % MUTA_CLASSES == before->low;
}

/* What it costs to come from one chord to another, wherever they stand in the key; HOPELESS where a
 * chord would only be said again. */
static int32_t price_change(const struct search *search, const muta_candidate *from,
                            const muta_candidate *to, size_t onset)
{
    const muta_hearing *const hearing = &search->hearing;
    const muta_slice *const slice = &search->sounds.slices[onset];

    if (from->kind == MUTA_CHORD_KINDS) /* nothing came before */
        return 0;
    if (!is_same_chord(from, to))
        return (hearing->change[0] + hearing->motion[motion(from, to)] +
                hearing->motion_place[motion_place(from, to, slice->third)] +
                hearing->basses[basses(from, to, 0)] +
                hearing->bass_motion[bass_motion(from, to, 0, slice->third)]) *
                   HUNDREDTHS +
               slice->edges[0] + LESSON_CHANGE(search, onset);
    if (from->bass != to->bass && is_still_bass(slice, from))
        return HOPELESS;
    if (from->bass != to->bass)
        return (hearing->new_bass[slice->level] - hearing->kind[to->kind] +
                hearing->basses[basses(from, to, 1)] +
                hearing->bass_motion[bass_motion(from, to, 1, slice->third)]) *
                   HUNDREDTHS +
               slice->edges[1];
    /* With the same bass it goes on over a bar line alone: else it would be split for profit. */
    if (slice->level != MUTA_LEVEL_BAR)
        return HOPELESS;
    return (hearing->goes_on[0] - hearing->kind[to->kind] -
            hearing->inversion[to->kind * MUTA_CHORD_TONES + to->bass]) *
           HUNDREDTHS;
}

/* The key of which a chord is the tonic; -1 for other kinds. */
static int key_of_tonic(const muta_candidate *chord)
{
    return chord->kind == MUTA_CHORD_MAJOR   ? chord->root
           : chord->kind == MUTA_CHORD_MINOR ? chord->root + MUTA_CLASSES
                                             : -1;
}

/* ---- keys ---- */

static int32_t signature_at(const struct search *search, size_t onset)
{
    const muta_heard_bar *const bar =
        muta_heard_bar_at(search->heard, search->heard->onsets.at[onset]);

    if (!search->signatures)
        return 0;
    return search->signatures[bar - search->heard->bars.at] - search->sounds.base;
}

static size_t fifths_apart(int32_t a, int32_t b)
{
    const int32_t apart = abs(a - b) % MUTA_CLASSES;

    return (size_t)(apart > 6 ? MUTA_CLASSES - apart : apart);
}

static size_t mode_of(int key)
{
    return key < MUTA_CLASSES ? 0 : 1;
}

/* How far the signature of a key is from the one in force: its place in a row of each mode. */
static size_t far_from(const struct search *search, int key, int32_t signature)
{
    return mode_of(key) * MUTA_FAR +
           (search->signatures ? fifths_apart(search->fifths[key], signature) : 0);
}

static size_t degree_of(int key, int root)
{
    return mode_of(key) * MUTA_CLASSES + up(key % MUTA_CLASSES, root);
}

static size_t degree_bass(int key, int root, int triad, int bass)
{
    return (degree_of(key, root) * MUTA_TRIADS + (size_t)triad) * MUTA_CHORD_TONES + (size_t)bass;
}

/* A last chord: the tonic, another on it, on the dominant, elsewhere. */
static size_t end_of(const muta_candidate *chord, int key)
{
    const size_t above = up(key % MUTA_CLASSES, chord->root);

    return mode_of(key) * 4 + (key_of_tonic(chord) == key ? 0U
                               : above == 0               ? 1U
                               : above == 7               ? 2U
                                                          : 3U);
}

/* What a span costs in each key: the tones of each degree, and how far its signature is away. */
static void price_keys(const struct search *search, muta_span *span, const size_t *far)
{
    const muta_hearing *const hearing = &search->hearing;

    for (int key = 0; key < MUTA_KEYS; key++) {
        const int16_t *const scale = &hearing->scale[mode_of(key) * MUTA_CLASSES];
        int32_t cost = 0;
        for (int i = 0; i < MUTA_CLASSES; i++)
            cost += scale[i] * span->masses[key % MUTA_CLASSES + i];
        span->keys[key] = cost / 10 + hearing->signature[far[key]] * span->lasts / 100 +
                          LESSON_KEY(search, span, key);
    }
}

/* ---- the program ---- */

/* The states of a moment as seen from each key: the best way into it, and from which key. */
struct entered {
    int32_t cost[KEPT][MUTA_KEYS];
    int32_t least[KEPT];
    uint8_t from[KEPT][MUTA_KEYS];
};

static int by_cost(const void *a, const void *b)
{
    const struct state *const one = a;
    const struct state *const two = b;
    int32_t best[2] = {HOPELESS, HOPELESS};

    for (int i = 0; i < MUTA_KEYS; i++) {
        best[0] = one->cost[i] < best[0] ? one->cost[i] : best[0];
        best[1] = two->cost[i] < best[1] ? two->cost[i] : best[1];
    }
    if (best[0] != best[1])
        return best[0] < best[1] ? -1 : 1;
    return memcmp(&one->chord.root, &two->chord.root, 3);
}

/* The cheapest way into a key, from itself or from another that is not dearer than any change. */
static void enter_key(const struct search *search, const int32_t *costs, const uint8_t *near,
                      size_t count, int to, int32_t place, int32_t *cost, uint8_t *from)
{
    *cost = costs[to];
    *from = (uint8_t)to;
    for (size_t i = 0; i < count; i++) {
        const int32_t other = costs[near[i]] + search->away[near[i]][to] + place;
        if (near[i] != to && other < *cost) {
            *cost = other;
            *from = near[i];
        }
    }
}

/* No key is left where that costs more than to stay; before the first chord there is none to
 * leave. */
static void enter(const struct search *search, const struct moment *moment, size_t onset,
                  struct entered *entered)
{
    const int32_t place =
        search->hearing.key_place[search->sounds.slices[onset].level] * HUNDREDTHS;

    for (size_t i = 0; i < moment->count; i++) {
        const int32_t *const costs = moment->states[i].cost;
        uint8_t near[MUTA_KEYS];
        size_t count = 0;
        int32_t least = costs[0];
        for (int key = 1; key < MUTA_KEYS; key++)
            least = costs[key] < least ? costs[key] : least;
        for (int key = 0; onset > 0 && key < MUTA_KEYS; key++)
            if (costs[key] <= least + search->most_away - search->least_away)
                near[count++] = (uint8_t)key;
        for (int to = 0; to < MUTA_KEYS; to++)
            enter_key(search, costs, near, count, to, place, &entered->cost[i][to],
                      &entered->from[i][to]);
        entered->least[i] = least;
    }
}

static uint32_t pack(size_t onsets, size_t state, int key)
{
    return (uint32_t)(onsets << 16 | state << 8 | (size_t)key);
}

static struct state *state_for(struct moment *moment, const muta_candidate *chord)
{
    for (size_t i = 0; i < moment->count; i++)
        if (is_same_chord(&moment->states[i].chord, chord) &&
            moment->states[i].chord.bass == chord->bass)
            return &moment->states[i];
    if (moment->count == moment->room) {
        const size_t room = moment->room ? moment->room * 2 : KEPT;
        struct state *const grown = realloc(moment->states, room * sizeof *grown);
        if (!grown)
            return NULL;
        moment->states = grown;
        moment->room = room;
    }
    struct state *const added = &moment->states[moment->count++];
    added->chord = *chord;
    for (int i = 0; i < MUTA_KEYS; i++)
        added->cost[i] = HOPELESS;
    return added;
}

/* The best ways from the states of a moment into a chord, key by key. */
struct ways {
    int32_t cost[MUTA_KEYS];
    int32_t state[MUTA_KEYS];
};

static void find_ways(const struct search *search, size_t onset, const struct entered *entered,
                      const muta_candidate *chord, struct ways *ways)
{
    const struct moment *const moment = &search->moments[onset];
    const int32_t *const degrees = search->degrees[chord->root][chord->kind];
    int32_t dearest = HOPELESS;
    int32_t most = 0;

    for (int i = 0; i < MUTA_KEYS; i++) {
        most = degrees[i] > most ? degrees[i] : most;
        ways->cost[i] = HOPELESS;
        ways->state[i] = 0;
    }
    for (size_t i = 0; i < moment->count; i++) {
        const muta_candidate *const from = &moment->states[i].chord;
        /* A chord that goes on, over a bar line or another bass, is charged once. */
        const bool goes_on = is_same_chord(from, chord);
        const int32_t change = price_change(search, from, chord, onset);
        if (change == HOPELESS || entered->least[i] + change - (goes_on ? most : 0) >= dearest)
            continue;
        dearest = 0;
        for (int key = 0; key < MUTA_KEYS; key++) {
            const int32_t cost = entered->cost[i][key] + change - (goes_on ? degrees[key] : 0);
            const bool is_better = cost < ways->cost[key];
            ways->cost[key] = is_better ? cost : ways->cost[key];
            ways->state[key] = is_better ? (int32_t)i : ways->state[key];
            dearest = ways->cost[key] > dearest ? ways->cost[key] : dearest;
        }
    }
}

/* Follows one chord of a span from where it begins to where it ends. */
static muta_status follow(struct search *search, const muta_span *span,
                          const struct entered *entered, const muta_candidate *chord, int32_t more)
{
    const int32_t *const degrees = search->degrees[chord->root][chord->kind];
    const int32_t *const bassed =
        search->basses[chord->root][muta_triads[chord->kind]][chord->bass];
    struct ways ways;

    find_ways(search, span->from, entered, chord, &ways);
    if (ways.cost[0] >= HOPELESS)
        return MUTA_OK;
    struct state *const state = state_for(&search->moments[span->to], chord);
    if (!state)
        return MUTA_E_MEMORY;
    for (int key = 0; key < MUTA_KEYS; key++) {
        const int32_t cost =
            ways.cost[key] + chord->cost + more + degrees[key] + bassed[key] + span->keys[key];
        if (cost >= state->cost[key])
            continue;
        state->cost[key] = cost;
        state->chord.fifths = chord->fifths;
        state->back[key] = pack(span->to - span->from, (size_t)ways.state[key],
                                entered->from[ways.state[key]][key]);
    }
    return MUTA_OK;
}

static size_t across(const muta_slice *slice, uint8_t strongest)
{
    return ((size_t)slice->pulse * MUTA_LEVELS + slice->level) * MUTA_LEVELS + strongest;
}

/* What a span costs by itself: its length, and the stronger moments that it lasts across. */
static int32_t price_span(const struct search *search, const muta_span *span)
{
    const muta_hearing *const hearing = &search->hearing;
    const muta_slice *const slice = &search->sounds.slices[span->from];

    return (hearing->length[slice->pulse * MUTA_LENGTHS + span->length] +
            hearing->across[across(slice, span->strongest)]) *
               HUNDREDTHS +
           LESSON_SPAN(search, span);
}

/* The longest that a chord lasts before it is asked again: a bar, at least four quarters. */
static int64_t longest_from(const struct search *search, size_t from)
{
    const muta_heard_bar *const bar =
        muta_heard_bar_at(search->heard, search->heard->onsets.at[from]);
    const int64_t bar_length = bar->to - bar->from;
    const int64_t fewest = FEWEST_QUARTERS * search->heard->quarter;

    return bar_length > fewest ? bar_length : fewest;
}

/* The states that are followed from a moment: nothing more comes there, and what is not followed
 * goes. */
static void keep_best(struct moment *moment)
{
    qsort(moment->states, moment->count, sizeof *moment->states, by_cost);
    moment->count = moment->count < KEPT ? moment->count : KEPT;
    struct state *const kept = realloc(moment->states, moment->count * sizeof *kept);
    if (kept) {
        moment->states = kept;
        moment->room = moment->count;
    }
}

/* All chords of a span that may end where it does. */
static muta_status follow_span(struct search *search, muta_span *span,
                               const struct entered *entered, const size_t *far, int32_t signature)
{
    muta_candidate chords[CANDIDATES];

    muta_span_read(&search->sounds, span);
    price_keys(search, span, far);
    const size_t count = muta_span_chords(&search->sounds, span, signature, chords, CANDIDATES);
    const int32_t more = price_span(search, span);
    for (size_t i = 0; i < count; i++)
        MUTA_TRY(follow(search, span, entered, &chords[i], more));
    return MUTA_OK;
}

/* All chords that begin at one moment. */
static muta_status begin_at(struct search *search, size_t from)
{
    const int64_t *const onsets = search->heard->onsets.at;
    const muta_slice *const slices = search->sounds.slices;
    const int64_t longest = longest_from(search, from);
    const int32_t signature = signature_at(search, from);
    muta_span span = {.from = from, .lowest = INT16_MAX, .strongest = MUTA_LEVELS - 1};
    struct entered entered;
    size_t far[MUTA_KEYS];

    for (int key = 0; key < MUTA_KEYS; key++)
        far[key] = far_from(search, key, signature);
    keep_best(&search->moments[from]);
    enter(search, &search->moments[from], from, &entered);
    for (size_t to = from + 1; to <= search->sounds.count && to - from < FARTHEST; to++) {
        if (to > from + 1 && onsets[to] - onsets[from] > longest)
            break;
        if (slices[to - 1].low < span.lowest)
            span.lowest = slices[to - 1].low;
        if (to > from + 1 && slices[to - 1].level < span.strongest)
            span.strongest = slices[to - 1].level;
        /* No chord begins on what is finer than any change. */
        if (to < search->sounds.count && slices[to].level == MUTA_LEVEL_FINER && to > from + 1)
            continue;
        span.to = to;
        MUTA_TRY(follow_span(search, &span, &entered, far, signature));
    }
    return MUTA_OK;
}

/* Before the first chord there is none, in each key as the signature has it. */
static muta_status begin(struct search *search)
{
    const muta_candidate none = {.root = 0, .kind = MUTA_CHORD_KINDS};
    struct state *const state = state_for(&search->moments[0], &none);

    if (!state)
        return MUTA_E_MEMORY;
    for (int key = 0; key < MUTA_KEYS; key++)
        state->cost[key] =
            search->signatures
                ? search->hearing.first[far_from(search, key, signature_at(search, 0))] * HUNDREDTHS
                : 0;
    return MUTA_OK;
}

/* ---- what was heard ---- */

int muta_heard_root(const muta_heard_chord *chord)
{
    return muta_fifths_class(chord->value.root);
}

/* The search counts from its own base. */
static muta_chord value_of(const struct search *search, const muta_candidate *chord)
{
    return (muta_chord){.root = chord->fifths + search->sounds.base,
                        .kind = (muta_chord_kind)chord->kind,
                        .bass = chord->bass};
}

/* A chord as it sounds. */
static muta_heard_chord chord_of(const struct search *search, const muta_candidate *chord,
                                 uint8_t key)
{
    const int base = muta_fifths_class(search->sounds.base);

    return (muta_heard_chord){
        .value = value_of(search, chord),
        .key = (uint8_t)((key % MUTA_CLASSES + base) % MUTA_CLASSES +
                         (key < MUTA_CLASSES ? 0 : MUTA_CLASSES)),
    };
}

/* The best of the other chords over the same stretch, as the costs of all that led there rank them.
 */
static void find_others(const struct search *search, const struct moment *moment, size_t chosen,
                        uint32_t onsets, muta_heard_chord *chord)
{
    int32_t costs[MUTA_ALTERNATIVES];

    for (size_t i = 0; i < moment->count; i++) {
        const struct state *const state = &moment->states[i];
        int32_t cost = HOPELESS;
        size_t to = chord->other_count;
        for (int key = 0; key < MUTA_KEYS; key++)
            if (state->back[key] >> 16 == onsets && state->cost[key] < cost)
                cost = state->cost[key];
        if (i == chosen || cost == HOPELESS ||
            is_same_chord(&state->chord, &moment->states[chosen].chord))
            continue;
        if (to == MUTA_ALTERNATIVES && costs[to - 1] <= cost)
            continue;
        to -= to == MUTA_ALTERNATIVES;
        for (; to > 0 && costs[to - 1] > cost; to--) {
            costs[to] = costs[to - 1];
            chord->others[to] = chord->others[to - 1];
        }
        costs[to] = cost;
        chord->others[to] = value_of(search, &state->chord);
        if (chord->other_count < MUTA_ALTERNATIVES)
            chord->other_count++;
    }
}

static bool goes_on(const muta_heard_chord *chord, const muta_heard_chord *next)
{
    return muta_heard_root(chord) == muta_heard_root(next) &&
           chord->value.kind == next->value.kind && chord->value.bass == next->value.bass &&
           chord->key == next->key;
}

static int32_t price_end(const struct search *search, const struct state *state, int key)
{
    return state->cost[key] + search->hearing.end[end_of(&state->chord, key)] * HUNDREDTHS;
}

/* Walks back from the best end, then turns the chords round. */
static muta_status walk_back(struct search *search, muta_heard_chords *chords)
{
    const int64_t *const onsets = search->heard->onsets.at;
    const struct moment *const end = &search->moments[search->sounds.count];
    size_t state = 0;
    uint8_t key = 0;

    for (size_t i = 0; i < end->count; i++)
        for (int k = 0; k < MUTA_KEYS; k++)
            if (price_end(search, &end->states[i], k) <
                price_end(search, &end->states[state], key)) {
                state = i;
                key = (uint8_t)k;
            }
    for (size_t at = search->sounds.count; at > 0;) {
        const struct state *const of = &search->moments[at].states[state];
        const uint32_t back = of->back[key];
        const size_t from = at - (back >> 16);
        muta_heard_chord *const last = chords->count ? &chords->at[chords->count - 1] : NULL;
        const muta_heard_chord heard = chord_of(search, &of->chord, key);
        if (last && goes_on(last, &heard)) {
            last->from = onsets[from];
        } else {
            muta_heard_chord *const chord = MUTA_PUSH(&search->heard->arena, chords);
            if (!chord)
                return MUTA_E_MEMORY;
            *chord = heard;
            chord->from = onsets[from];
            chord->to = onsets[at];
            find_others(search, &search->moments[at], state, back >> 16, chord);
        }
        state = back >> 8 & 255;
        key = (uint8_t)(back & 255);
        at = from;
    }
    for (size_t i = 0; i < chords->count / 2; i++) {
        const muta_heard_chord held = chords->at[i];
        chords->at[i] = chords->at[chords->count - 1 - i];
        chords->at[chords->count - 1 - i] = held;
    }
    return MUTA_OK;
}

static size_t key_change(int from, int to)
{
    return (mode_of(from) * MUTA_MODES + mode_of(to)) * MUTA_CLASSES +
           up(from % MUTA_CLASSES, to % MUTA_CLASSES);
}

static void set_tables(struct search *search)
{
    const muta_hearing *const hearing = &search->hearing;

    search->least_away = INT32_MAX;
    for (int key = 0; key < MUTA_KEYS; key++) {
        search->fifths[key] = muta_harmony_key_fifths(key);
        for (int other = 0; other < MUTA_KEYS; other++) {
            search->away[key][other] =
                key == other ? 0 : hearing->new_key[key_change(key, other)] * HUNDREDTHS;
            if (key != other && search->away[key][other] < search->least_away)
                search->least_away = search->away[key][other];
            if (search->away[key][other] > search->most_away)
                search->most_away = search->away[key][other];
        }
        for (int i = 0; i < MUTA_CLASSES * MUTA_TRIADS * MUTA_CHORD_TONES; i++) {
            const int root = i / (MUTA_TRIADS * MUTA_CHORD_TONES);
            const int triad = i / MUTA_CHORD_TONES % MUTA_TRIADS;
            const int bass = i % MUTA_CHORD_TONES;
            search->basses[root][triad][bass][key] =
                hearing->degree_bass[degree_bass(key, root, triad, bass)] * HUNDREDTHS;
        }
        for (int root = 0; root < MUTA_CLASSES; root++)
            for (int kind = 0; kind < MUTA_CHORD_KINDS; kind++)
                search->degrees[root][kind][key] =
                    hearing->degree[degree_of(key, root) * MUTA_CHORD_KINDS + (size_t)kind] *
                    HUNDREDTHS;
    }
}

static muta_status run(struct search *search, muta_heard_chords *chords)
{
    set_tables(search);
    MUTA_TRY(muta_sounds_add_up(&search->sounds));
    search->moments = calloc(search->sounds.count + 1, sizeof *search->moments);
    if (!search->moments)
        return MUTA_E_MEMORY;
    MUTA_TRY(begin(search));
    for (size_t from = 0; from < search->sounds.count; from++)
        if (search->moments[from].count > 0)
            MUTA_TRY(begin_at(search, from));
    return walk_back(search, chords);
}

/* Begins to listen: all is reckoned from the first signature, or the first tone. */
static void start(struct search *search, muta_heard *heard, const int32_t *fifths)
{
    search->heard = heard;
    search->signatures = fifths;
    search->sounds = (muta_sounds){
        .heard = heard,
        .hearing = &search->hearing,
        .base = fifths ? fifths[muta_heard_bar_at(heard, heard->onsets.at[0]) - heard->bars.at]
                       : heard->tones.at[0].fifths,
    };
}

static void stop(struct search *search)
{
    for (size_t i = 0; search->moments && i <= search->sounds.count; i++)
        free(search->moments[i].states);
    free(search->moments);
    free(search->sounds.slices);
    free(search->sounds.sums);
}

muta_status muta_harmony_find(muta_heard *heard, const int32_t *fifths, muta_heard_chords *chords)
{
    struct search *const search = calloc(1, sizeof *search);

    *chords = (muta_heard_chords){0};
    if (!search)
        return MUTA_E_MEMORY;
    muta_status status = MUTA_OK;
    if (!muta_hearing_read(muta_table_hearing, &search->hearing)) {
        status = MUTA_E_FAULT;
    } else if (heard->onsets.count >= 2) {
        start(search, heard, fifths);
        status = run(search, chords);
        stop(search);
    }
    free(search);
    return status;
}
