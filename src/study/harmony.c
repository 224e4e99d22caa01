/* harmony.c: the search for chords and keys. */
#include "study/harmony.h"
#include <stdlib.h>
#include <string.h>

enum {
    CANDIDATES = 5, /* of a span */
    TRIED = 10,     /* for which spelling is looked at */
    KEPT = 10,      /* states of a moment that are followed */
    FARTHEST = 250, /* onsets that a span may hold */
    FEWEST_QUARTERS = 4,
    THIN = 16,
    TOO_DEAR = 1 << 28, /* for one chord */
    HOPELESS = 1 << 30
};

/* What a slice, of all from the start, adds up to: differences give any span. */
struct sums {
    uint32_t lost[MUTA_CLASSES]; /* what its tones cost where they are not in the chord */
    uint32_t mass[MUTA_CLASSES]; /* how much of each class sounds, in thousandths of a quarter */
    uint32_t spelt[MUTA_FIFTHS_COUNT];
    uint32_t low[MUTA_CLASSES]; /* for how long it is lowest */
};

struct slice {
    uint32_t next[MUTA_CLASSES]; /* the first slice from here on in which a class sounds */
    int16_t low;                 /* the lowest tone, in semitones; above all when none sounds */
    uint8_t level;
};

struct candidate {
    int32_t cost;
    uint8_t root;
    uint8_t kind;
    uint8_t bass;
    int8_t fifths;
};

/* A chord that ends at a moment, in each key, with the best way there. */
struct state {
    struct candidate chord;
    int32_t cost[MUTA_KEYS];
    uint32_t back[MUTA_KEYS]; /* how many onsets before, which state there, which key */
};

struct moment {
    struct state *states;
    size_t count;
    size_t room;
};

struct search {
    muta_heard *heard;
    const muta_harmony_costs *costs;
    const int32_t *signatures;
    int32_t
        base; /* all is reckoned from the first signature, so that equals fall alike in any key */
    size_t count; /* of slices */
    struct sums *sums;
    struct slice *slices;
    struct moment *moments;
    int32_t degrees[MUTA_CLASSES][MUTA_CHORD_KINDS][MUTA_KEYS];
    int32_t away[MUTA_KEYS][MUTA_KEYS]; /* from key to key, in costs */
    int32_t least_away;                 /* of two that differ */
    int32_t fifths[MUTA_KEYS];          /* of their signatures */
    const muta_chord_row *rows[MUTA_CHORD_KINDS];
    bool outside[MUTA_KEYS][MUTA_CLASSES];
};

/* ---- what sounds ---- */

static int64_t thousandths(const struct search *search, int64_t ticks)
{
    return ticks * 1000 / search->heard->quarter;
}

/* Whether a tone is held over a moment that is stronger than its own. */
static bool is_held_over(const muta_heard *heard, const muta_heard_tone *tone)
{
    const muta_heard_bar *const bar = muta_heard_bar_at(heard, tone->from);
    const int64_t beat = bar->beat > 0 ? bar->beat : heard->quarter;
    const int64_t in_beat = (tone->from - bar->from + bar->offset) % beat;
    const int64_t next = tone->from + beat - in_beat;

    return next < tone->to && muta_heard_level(heard, next) < (muta_level)tone->level;
}

/* What a quarter of a tone costs that is not in the chord. */
static int32_t price_of(const struct search *search, const muta_heard_tone *tone)
{
    const muta_harmony_costs *const costs = search->costs;
    const bool reached = muta_motion_is_step(tone->reached);
    const bool left = muta_motion_is_step(tone->left);

    if (tone->left == MUTA_MOTION_DOWN && is_held_over(search->heard, tone))
        return costs->suspended;
    if (reached && left && tone->reached == tone->left)
        return tone->level <= MUTA_LEVEL_BEAT ? costs->passing_on_beat : costs->passing;
    if (reached && left)
        return costs->neighbour;
    if (tone->reached == MUTA_MOTION_SAME && left)
        return costs->anticipating;
    return left ? costs->left_by_step : reached ? costs->reached_by_step : costs->leaping;
}

/* The more sounds together, the less each tone weighs: the number to the power of -0.3. */
static int32_t weight_among(size_t sounding)
{
    static const int32_t weights[THIN + 1] = {1000, 1000, 812, 719, 660, 617, 584, 558, 536,
                                              517,  501,  487, 475, 463, 453, 444, 435};

    return weights[sounding < THIN ? sounding : THIN];
}

static int class_of(const struct search *search, const muta_heard_tone *tone)
{
    return (tone->pitch_class - muta_fifths_class(search->base) + MUTA_CLASSES) % MUTA_CLASSES;
}

/* Adds the tones that sound in one slice. */
static void add_slice(struct search *search, size_t nth, const uint32_t *active, size_t count,
                      const int32_t *prices)
{
    const muta_heard *const heard = search->heard;
    const int64_t from = heard->onsets.at[nth];
    const int64_t to = heard->onsets.at[nth + 1];
    struct sums *const sums = &search->sums[nth + 1];
    struct slice *const slice = &search->slices[nth];
    const muta_heard_tone *lowest = NULL;

    *sums = search->sums[nth];
    slice->low = INT16_MAX;
    slice->level = (uint8_t)muta_heard_level(heard, from);
    for (size_t i = 0; i < count; i++) {
        const muta_heard_tone *const tone = &heard->tones.at[active[i]];
        const int64_t end = tone->to < to ? tone->to : to;
        const int64_t lasts =
            thousandths(search, end - from) + (tone->from == from ? search->costs->attack : 0);
        const int64_t mass = lasts * weight_among(count) / 1000;
        const int32_t place = tone->fifths - search->base - MUTA_FIFTHS_LOW;
        const int pitch_class = class_of(search, tone);
        sums->mass[pitch_class] += (uint32_t)mass;
        sums->lost[pitch_class] += (uint32_t)(mass * prices[active[i]] / 1000);
        if (place >= 0 && place < MUTA_FIFTHS_COUNT)
            sums->spelt[place] += (uint32_t)mass;
        if (!lowest || tone->midi < lowest->midi)
            lowest = tone;
    }
    if (lowest) {
        slice->low = (int16_t)(lowest->midi + MUTA_CLASSES - muta_fifths_class(search->base));
        sums->low[class_of(search, lowest)] += (uint32_t)thousandths(search, to - from);
    }
}

/* Takes out of `active` what has ended, and puts in what begins. */
static size_t step_active(const muta_heard *heard, int64_t at, uint32_t *active, size_t count,
                          size_t *next)
{
    size_t kept = 0;

    for (size_t i = 0; i < count; i++)
        if (heard->tones.at[active[i]].to > at)
            active[kept++] = active[i];
    for (; *next < heard->tones.count && heard->tones.at[*next].from <= at; ++*next)
        active[kept++] = (uint32_t)*next;
    return kept;
}

static void find_next(struct search *search)
{
    for (size_t i = search->count; i > 0; i--)
        for (int j = 0; j < MUTA_CLASSES; j++)
            search->slices[i - 1].next[j] = search->sums[i].mass[j] != search->sums[i - 1].mass[j]
                                                ? (uint32_t)(i - 1)
                                            : i < search->count ? search->slices[i].next[j]
                                                                : (uint32_t)search->count;
}

static muta_status add_up(struct search *search)
{
    const muta_heard *const heard = search->heard;
    uint32_t *const active = calloc(heard->tones.count + 1, sizeof *active);
    int32_t *const prices = calloc(heard->tones.count + 1, sizeof *prices);
    size_t count = 0;
    size_t next = 0;

    if (active && prices) {
        for (size_t i = 0; i < heard->tones.count; i++)
            prices[i] = price_of(search, &heard->tones.at[i]);
        for (size_t i = 0; i < search->count; i++) {
            count = step_active(heard, heard->onsets.at[i], active, count, &next);
            add_slice(search, i, active, count, prices);
        }
        find_next(search);
    }
    const bool good = active && prices;
    free(active);
    free(prices);
    return good ? MUTA_OK : MUTA_E_MEMORY;
}

/* ---- the chords of a span ---- */

/* What is known of a span, whatever its chord. */
struct span {
    size_t from;
    size_t to;
    int64_t lost_all;
    int32_t mass[MUTA_CLASSES];
    /* Each class twice over, so that a tone above a root is found without a look round the octave:
     * its cost as each tone of a chord, but what is lost without it; and as the bass. */
    int32_t tone[MUTA_CHORD_TONES][2 * MUTA_CLASSES];
    int32_t bass[2 * MUTA_CLASSES];
    int32_t keys[MUTA_KEYS]; /* what it costs in each key, whatever its chord */
};

static void read_bass(const struct search *search, struct span *span, int16_t lowest)
{
    const muta_harmony_costs *const costs = search->costs;
    const int64_t first = search->slices[span->from].low;
    int64_t total = 0;

    for (int i = 0; i < MUTA_CLASSES; i++)
        total += (int32_t)(search->sums[span->to].low[i] - search->sums[span->from].low[i]);
    for (int i = 0; i < MUTA_CLASSES; i++) {
        const int64_t time =
            (int32_t)(search->sums[span->to].low[i] - search->sums[span->from].low[i]);
        span->bass[i] =
            (first == INT16_MAX || first % MUTA_CLASSES != i ? costs->not_first_low : 0) +
            (lowest == INT16_MAX || lowest % MUTA_CLASSES != i ? costs->not_lowest : 0) +
            (int32_t)(total > 0 ? costs->seldom_lowest * (total - time) / total : 0);
        span->bass[i + MUTA_CLASSES] = span->bass[i];
    }
}

static void read_span(const struct search *search, struct span *span, int16_t lowest)
{
    const struct sums *const a = &search->sums[span->from];
    const struct sums *const b = &search->sums[span->to];
    const muta_harmony_costs *const costs = search->costs;
    const int64_t start = search->heard->onsets.at[span->from];
    int64_t all = 0;

    span->lost_all = 0;
    for (int i = 0; i < MUTA_CLASSES; i++) {
        span->mass[i] = (int32_t)(b->mass[i] - a->mass[i]);
        span->lost_all += (int32_t)(b->lost[i] - a->lost[i]);
        all += span->mass[i];
    }
    for (int i = 0; i < MUTA_CLASSES; i++) {
        const int64_t share = all > 0 ? (int64_t)span->mass[i] * 1000 / all : 0;
        const uint32_t first = search->slices[span->from].next[i];
        const int32_t absent =
            share >= costs->enough ? 0 : (int32_t)(1000 - share * 1000 / costs->enough);
        const int32_t late = (int32_t)thousandths(
            search, search->heard->onsets.at[first < span->to ? first : span->to] - start);
        const int32_t lost = (int32_t)(b->lost[i] - a->lost[i]);
        const int32_t lack[MUTA_CHORD_TONES] = {
            (int32_t)((int64_t)costs->no_root * absent / 1000),
            (int32_t)((int64_t)costs->no_third * absent / 1000),
            (int32_t)((int64_t)costs->no_fifth * absent / 1000),
            (int32_t)((int64_t)costs->no_seventh * absent / 1000 +
                      (int64_t)costs->late_seventh * late / 1000)};
        for (int tone = 0; tone < MUTA_CHORD_TONES; tone++)
            span->tone[tone][i] = span->tone[tone][i + MUTA_CLASSES] = lack[tone] - lost;
    }
    read_bass(search, span, lowest);
}

/* What a chord costs in a span, but for its spelling; its best bass. */
static int32_t price_chord(const struct search *search, const struct span *span,
                           struct candidate *chord)
{
    const muta_harmony_costs *const costs = search->costs;
    const muta_chord_row *const row = search->rows[chord->kind];
    int64_t cost = span->lost_all + costs->kinds[chord->kind];
    int32_t best = INT32_MAX;

    for (int i = 0; i < row->count; i++) {
        const int above = chord->root + row->classes[i];
        const int32_t bass = span->bass[above] + costs->inversions[i];
        cost += span->tone[i][above];
        if (bass < best) {
            best = bass;
            chord->bass = (uint8_t)i;
        }
    }
    return (int32_t)(cost + best < TOO_DEAR ? cost + best : TOO_DEAR);
}

/* Spells the root as the tones are written, and charges what is written otherwise. */
static void spell(const struct search *search, const struct span *span, int32_t signature,
                  struct candidate *chord)
{
    const muta_chord_row *const row = muta_chord_row_of((muta_chord_kind)chord->kind);
    const struct sums *const a = &search->sums[span->from];
    const struct sums *const b = &search->sums[span->to];
    int64_t all = 0;
    int64_t most = -1;

    for (int i = 0; i < row->count; i++)
        all += span->mass[(chord->root + row->classes[i]) % MUTA_CLASSES];
    const int first = chord->root * 7 % MUTA_CLASSES;
    for (int fifths = first - MUTA_CLASSES; fifths <= first + MUTA_CLASSES;
         fifths += MUTA_CLASSES) {
        int64_t right = 0;
        for (int i = 0; i < row->count; i++) {
            const int place = fifths + row->fifths[i] - MUTA_FIFTHS_LOW;
            if (place >= 0 && place < MUTA_FIFTHS_COUNT)
                right += (int32_t)(b->spelt[place] - a->spelt[place]);
        }
        if (right > most ||
            (right == most && abs(fifths - signature - 2) < abs(chord->fifths - signature - 2))) {
            most = right;
            chord->fifths = (int8_t)fifths;
        }
    }
    if (all > 0)
        chord->cost += (int32_t)(search->costs->misspelled * (all - most) / all);
}

static size_t insert(struct candidate *sorted, size_t count, size_t room,
                     const struct candidate *candidate)
{
    size_t to = count < room ? count : room - 1;

    if (count == room && sorted[count - 1].cost <= candidate->cost)
        return count;
    for (; to > 0 && sorted[to - 1].cost > candidate->cost; to--)
        sorted[to] = sorted[to - 1];
    sorted[to] = *candidate;
    return count < room ? count + 1 : count;
}

/* The best chords of a span. */
static size_t find_candidates(const struct search *search, const struct span *span,
                              int32_t signature, struct candidate *best)
{
    struct candidate tried[TRIED];
    size_t count = 0;
    size_t found = 0;

    for (int root = 0; root < MUTA_CLASSES; root++)
        for (int kind = 0; kind < MUTA_CHORD_KINDS; kind++) {
            struct candidate chord = {.root = (uint8_t)root, .kind = (uint8_t)kind};
            chord.cost = price_chord(search, span, &chord);
            count = insert(tried, count, TRIED, &chord);
        }
    for (size_t i = 0; i < count; i++) {
        spell(search, span, signature, &tried[i]);
        found = insert(best, found, CANDIDATES, &tried[i]);
    }
    return found;
}

/* ---- from chord to chord ---- */

static bool is_same_chord(const struct candidate *a, const struct candidate *b)
{
    return a->root == b->root && a->kind == b->kind;
}

static int up(const struct candidate *from, const struct candidate *to)
{
    return (to->root - from->root + MUTA_CLASSES) % MUTA_CLASSES;
}

/* A change of chord, wherever it stands in the key. */
static int32_t price_change(const muta_harmony_costs *costs, const struct candidate *from,
                            const struct candidate *to, int32_t place)
{
    const int by = up(from, to);
    int32_t cost = costs->change + place;

    if (from->kind == MUTA_CHORD_KINDS) /* nothing came before */
        return 0;
    if (is_same_chord(from, to))
        return -costs->kinds[to->kind] +
               (from->bass == to->bass
                    ? -costs->inversions[to->bass]
                    : costs->change + costs->new_bass +
                          (int32_t)((int64_t)place * costs->new_bass_place / 1000));
    cost += by == 5 || by == 7 ? (by == 5 ? costs->motion[5] : costs->motion[4])
                               : costs->motion[by < 6 ? by : MUTA_CLASSES - by];
    if ((from->kind == MUTA_CHORD_DOMINANT && by == 5) ||
        (from->kind == MUTA_CHORD_DIMINISHED_SEVENTH && by == 1))
        cost += costs->resolves;
    return cost;
}

/* Whether a chord is the dominant of the one that follows. */
static bool leads(const struct candidate *from, const struct candidate *to)
{
    return muta_chord_leads((muta_chord_kind)from->kind, up(from, to));
}

/* The key of which a chord is the tonic; -1 for other kinds. */
static int key_of_tonic(const struct candidate *chord)
{
    return chord->kind == MUTA_CHORD_MAJOR   ? chord->root
           : chord->kind == MUTA_CHORD_MINOR ? chord->root + MUTA_CLASSES
                                             : -1;
}

/* ---- the program ---- */

/* The states of a moment as seen from each key: the best way into it, and from which key. */
struct entered {
    int32_t cost[KEPT][MUTA_KEYS];
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

/* No key is left where that costs more than to stay, from whichever. */
static void enter(const struct search *search, const struct moment *moment, struct entered *entered)
{
    for (size_t i = 0; i < moment->count; i++) {
        const int32_t *const costs = moment->states[i].cost;
        int32_t least = costs[0];
        for (int key = 1; key < MUTA_KEYS; key++)
            least = costs[key] < least ? costs[key] : least;
        for (int to = 0; to < MUTA_KEYS; to++) {
            int32_t best = INT32_MAX;
            if (costs[to] < least + search->least_away) {
                entered->cost[i][to] = costs[to];
                entered->from[i][to] = (uint8_t)to;
                continue;
            }
            for (int from = 0; from < MUTA_KEYS; from++) {
                const int32_t cost = moment->states[i].cost[from] + search->away[from][to];
                if (cost < best) {
                    best = cost;
                    entered->from[i][to] = (uint8_t)from;
                }
            }
            entered->cost[i][to] = best;
        }
    }
}

static uint32_t pack(size_t onsets, size_t state, int key)
{
    return (uint32_t)(onsets << 16 | state << 8 | (size_t)key);
}

static struct state *state_for(struct moment *moment, const struct candidate *chord)
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

static void find_ways(const struct search *search, const struct moment *moment,
                      const struct entered *entered, const struct candidate *chord, int32_t place,
                      struct ways *ways)
{
    const muta_harmony_costs *const costs = search->costs;
    const int tonic = key_of_tonic(chord);
    const int32_t *const degrees = search->degrees[chord->root][chord->kind];

    for (int i = 0; i < MUTA_KEYS; i++) {
        ways->cost[i] = HOPELESS;
        ways->state[i] = 0;
    }
    for (size_t i = 0; i < moment->count; i++) {
        const struct candidate *const from = &moment->states[i].chord;
        /* A chord that goes on, over a bar line or another bass, is charged once. */
        const bool goes_on = is_same_chord(from, chord);
        const int32_t change = price_change(costs, from, chord, place);
        for (int key = 0; key < MUTA_KEYS; key++) {
            const int32_t cost = entered->cost[i][key] + change - (goes_on ? degrees[key] : 0);
            const bool is_better = cost < ways->cost[key];
            ways->cost[key] = is_better ? cost : ways->cost[key];
            ways->state[key] = is_better ? (int32_t)i : ways->state[key];
        }
        if (tonic >= 0 && leads(from, chord) &&
            entered->cost[i][tonic] + change + costs->cadences < ways->cost[tonic]) {
            ways->cost[tonic] = entered->cost[i][tonic] + change + costs->cadences;
            ways->state[tonic] = (int32_t)i;
        }
    }
}

static int32_t signature_at(const struct search *search, size_t onset)
{
    const muta_heard_bar *const bar =
        muta_heard_bar_at(search->heard, search->heard->onsets.at[onset]);

    if (!search->signatures)
        return 0;
    return search->signatures[bar - search->heard->bars.at] - search->base;
}

static int32_t fifths_apart(int32_t a, int32_t b)
{
    const int32_t apart = abs(a - b) % MUTA_CLASSES;

    return apart > 6 ? MUTA_CLASSES - apart : apart;
}

/* What a span costs in each key: what is outside its scale, and how far its signature is away. */
static void price_keys(const struct search *search, struct span *span, const int32_t *apart)
{
    const int64_t lasts = thousandths(search, search->heard->onsets.at[span->to] -
                                                  search->heard->onsets.at[span->from]);

    for (int key = 0; key < MUTA_KEYS; key++) {
        int64_t mass = 0;
        for (int i = 0; i < MUTA_CLASSES; i++)
            mass += search->outside[key][i] ? span->mass[i] : 0;
        span->keys[key] = (int32_t)(mass * search->costs->outside / 1000) +
                          (int32_t)((int64_t)apart[key] * search->costs->signature * lasts / 1000);
    }
}

/* Follows one chord of a span from where it begins to where it ends. */
static muta_status follow(struct search *search, const struct span *span,
                          const struct entered *entered, const struct candidate *chord,
                          int32_t place)
{
    const muta_harmony_costs *const costs = search->costs;
    struct ways ways;

    find_ways(search, &search->moments[span->from], entered, chord, place, &ways);
    struct state *const state = state_for(&search->moments[span->to], chord);
    if (!state)
        return MUTA_E_MEMORY;
    const bool is_six_four =
        chord->bass == 2 && (chord->kind == MUTA_CHORD_MAJOR || chord->kind == MUTA_CHORD_MINOR);
    for (int key = 0; key < MUTA_KEYS; key++) {
        const int32_t cost =
            ways.cost[key] + chord->cost + search->degrees[chord->root][chord->kind][key] +
            span->keys[key] +
            (is_six_four && key % MUTA_CLASSES == chord->root ? costs->six_four : 0);
        if (cost >= state->cost[key])
            continue;
        state->cost[key] = cost;
        state->chord.fifths = chord->fifths;
        state->back[key] = pack(span->to - span->from, (size_t)ways.state[key],
                                entered->from[ways.state[key]][key]);
    }
    return MUTA_OK;
}

/* What it costs that a chord begins here, and lasts over stronger moments. */
static int32_t price_place(const struct search *search, size_t from, uint8_t strongest)
{
    const uint8_t level = search->slices[from].level;

    return search->costs->places[level] +
           (strongest < level ? (level - strongest) * search->costs->crossed : 0);
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

/* All chords that begin at one moment. */
static muta_status begin_at(struct search *search, size_t from)
{
    const int64_t *const onsets = search->heard->onsets.at;
    struct moment *const moment = &search->moments[from];
    const int64_t longest = longest_from(search, from);
    const int32_t signature = signature_at(search, from);
    uint8_t strongest = UINT8_MAX;
    int16_t lowest = INT16_MAX;
    struct entered entered;
    int32_t apart[MUTA_KEYS];

    for (int key = 0; key < MUTA_KEYS; key++)
        apart[key] = search->signatures ? fifths_apart(search->fifths[key], signature) : 0;
    qsort(moment->states, moment->count, sizeof *moment->states, by_cost);
    moment->count = moment->count < KEPT ? moment->count : KEPT;
    /* Nothing more comes here: what is not followed goes. */
    struct state *const kept = realloc(moment->states, moment->count * sizeof *kept);
    if (kept)
        moment->states = kept;
    enter(search, moment, &entered);
    for (size_t to = from + 1; to <= search->count && to - from < FARTHEST; to++) {
        struct span span = {.from = from, .to = to};
        struct candidate chords[CANDIDATES];
        if (to > from + 1 && onsets[to] - onsets[from] > longest)
            break;
        if (search->slices[to - 1].low < lowest)
            lowest = search->slices[to - 1].low;
        if (to > from + 1 && search->slices[to - 1].level < strongest)
            strongest = search->slices[to - 1].level;
        /* No chord begins on what is finer than any change. */
        if (to < search->count && search->slices[to].level == MUTA_LEVEL_FINER && to > from + 1)
            continue;
        read_span(search, &span, lowest);
        price_keys(search, &span, apart);
        const size_t count = find_candidates(search, &span, signature, chords);
        const int32_t place = from == 0 ? 0 : price_place(search, from, strongest);
        for (size_t i = 0; i < count; i++)
            MUTA_TRY(follow(search, &span, &entered, &chords[i], place));
    }
    return MUTA_OK;
}

/* Before the first chord there is none, in each key as the signature has it. */
static muta_status begin(struct search *search)
{
    const struct candidate none = {.root = 0, .kind = MUTA_CHORD_KINDS};
    struct state *const state = state_for(&search->moments[0], &none);

    if (!state)
        return MUTA_E_MEMORY;
    for (int key = 0; key < MUTA_KEYS; key++)
        state->cost[key] = (search->signatures ? search->costs->signature_first : 0) *
                           fifths_apart(muta_harmony_key_fifths(key), signature_at(search, 0));
    return MUTA_OK;
}

int muta_heard_root(const muta_heard_chord *chord)
{
    return muta_fifths_class(chord->value.root);
}

/* The search counts from its own base. */
static muta_chord value_of(const struct search *search, const struct candidate *chord)
{
    return (muta_chord){.root = chord->fifths + search->base,
                        .kind = (muta_chord_kind)chord->kind,
                        .bass = chord->bass};
}

/* A chord as it sounds. */
static muta_heard_chord chord_of(const struct search *search, const struct candidate *chord,
                                 uint8_t key)
{
    const int base = muta_fifths_class(search->base);

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

/* Music ends in the key whose tonic it ends on, as a rule. */
static int32_t price_end(const struct search *search, const struct state *state, int key)
{
    return state->cost[key] + (key_of_tonic(&state->chord) == key ? 0 : search->costs->open_end);
}

/* Walks back from the best end, then turns the chords round. */
static muta_status walk_back(struct search *search, muta_heard_chords *chords)
{
    const int64_t *const onsets = search->heard->onsets.at;
    const struct moment *const end = &search->moments[search->count];
    size_t state = 0;
    uint8_t key = 0;

    for (size_t i = 0; i < end->count; i++)
        for (int k = 0; k < MUTA_KEYS; k++)
            if (price_end(search, &end->states[i], k) <
                price_end(search, &end->states[state], key)) {
                state = i;
                key = (uint8_t)k;
            }
    for (size_t at = search->count; at > 0;) {
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

static void set_tables(struct search *search)
{
    const muta_harmony_costs *const costs = search->costs;

    for (int kind = 0; kind < MUTA_CHORD_KINDS; kind++)
        search->rows[kind] = muta_chord_row_of((muta_chord_kind)kind);
    search->least_away = INT32_MAX;
    for (int key = 0; key < MUTA_KEYS; key++) {
        search->fifths[key] = muta_harmony_key_fifths(key);
        for (int other = 0; other < MUTA_KEYS; other++) {
            search->away[key][other] =
                key == other ? 0
                             : costs->new_key + costs->new_key_fifth *
                                                    fifths_apart(muta_harmony_key_fifths(key),
                                                                 muta_harmony_key_fifths(other));
            if (key != other && search->away[key][other] < search->least_away)
                search->least_away = search->away[key][other];
        }
        for (int root = 0; root < MUTA_CLASSES; root++) {
            search->outside[key][root] = !muta_harmony_has(key, root);
            for (int kind = 0; kind < MUTA_CHORD_KINDS; kind++)
                search->degrees[root][kind][key] =
                    muta_harmony_degree(costs, key, root, (muta_chord_kind)kind);
        }
    }
}

static muta_status run(struct search *search, muta_heard_chords *chords)
{
    set_tables(search);
    MUTA_TRY(add_up(search));
    MUTA_TRY(begin(search));
    for (size_t from = 0; from < search->count; from++)
        if (search->moments[from].count > 0)
            MUTA_TRY(begin_at(search, from));
    return walk_back(search, chords);
}

muta_status muta_harmony_find(muta_heard *heard, const muta_harmony_costs *costs,
                              const int32_t *fifths, muta_heard_chords *chords)
{
    struct search search = {.heard = heard, .costs = costs, .signatures = fifths};

    *chords = (muta_heard_chords){0};
    if (heard->onsets.count < 2)
        return MUTA_OK;
    search.count = heard->onsets.count - 1;
    search.base = fifths ? fifths[muta_heard_bar_at(heard, heard->onsets.at[0]) - heard->bars.at]
                         : heard->tones.at[0].fifths;
    search.sums = calloc(search.count + 1, sizeof *search.sums);
    search.slices = calloc(search.count + 1, sizeof *search.slices);
    search.moments = calloc(search.count + 1, sizeof *search.moments);
    muta_status status = search.sums && search.slices && search.moments ? MUTA_OK : MUTA_E_MEMORY;
    if (status == MUTA_OK)
        status = run(&search, chords);
    for (size_t i = 0; search.moments && i <= search.count; i++)
        free(search.moments[i].states);
    free(search.moments);
    free(search.slices);
    free(search.sums);
    return status;
}
