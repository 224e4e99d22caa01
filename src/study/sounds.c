/* sounds.c: what sounds in a passage, added up so that any stretch of it is one difference; and
 * what speaks for a change at each onset. */
#include "study/hearing.h"
#include <stdlib.h>

enum {
    THIN = 16,
    ATTACK = 100, /* as if each tone were so much of a quarter longer, in thousandths */
    HUNDREDTHS = 10,
    FEW = 4
};

int64_t muta_sounds_thousandths(const muta_sounds *sounds, int64_t ticks)
{
    return ticks * 1000 / sounds->heard->quarter;
}

const int8_t muta_way_semitones[MUTA_WAYS] = {-2, -1, 1, 2};

int muta_way_of(int semitones)
{
    int way = 0;

    while (way < MUTA_WAYS && muta_way_semitones[way] != semitones)
        way++;
    return way;
}

static uint8_t third_of(uint8_t level)
{
    return level <= MUTA_LEVEL_BEAT ? 0 : level == MUTA_LEVEL_PART ? 1 : 2;
}

/* Levels above the beat, the beat, and below it: where changes are told apart. */
static uint8_t edge_third(uint8_t level)
{
    return level <= MUTA_LEVEL_HALF ? 0 : level == MUTA_LEVEL_BEAT ? 1 : 2;
}

/* ---- tones ---- */

/* Whether a tone is held over a moment that is stronger than its own. */
static bool is_held_over(const muta_heard *heard, const muta_heard_tone *tone)
{
    const muta_heard_bar *const bar = muta_heard_bar_at(heard, tone->from);
    const int64_t beat = bar->beat > 0 ? bar->beat : heard->quarter;
    const int64_t in_beat = (tone->from - bar->from + bar->offset) % beat;
    const int64_t next = tone->from + beat - in_beat;

    return next < tone->to && muta_heard_level(heard, next) < (muta_level)tone->level;
}

size_t muta_sounds_outside(const muta_heard *heard, const muta_heard_tone *tone)
{
    const size_t moves = (size_t)tone->reached * MUTA_MOTIONS + tone->left;

    return (((size_t)tone->seat * MUTA_MOTIONS * MUTA_MOTIONS + moves) * MUTA_THIRDS +
            third_of(tone->level)) *
               2 +
           is_held_over(heard, tone);
}

/* The more sounds together, the less each tone weighs: the number to the power of -0.3. */
static int32_t weight_among(size_t sounding)
{
    static const int32_t weights[THIN + 1] = {1000, 1000, 812, 719, 660, 617, 584, 558, 536,
                                              517,  501,  487, 475, 463, 453, 444, 435};

    return weights[sounding < THIN ? sounding : THIN];
}

static int class_of(const muta_sounds *sounds, const muta_heard_tone *tone)
{
    return (tone->pitch_class - muta_fifths_class(sounds->base) + MUTA_CLASSES) % MUTA_CLASSES;
}

/* Adds the tones that sound in one slice. */
static void add_slice(muta_sounds *sounds, size_t nth, const uint32_t *active, size_t count,
                      const int16_t *weights)
{
    const muta_heard *const heard = sounds->heard;
    const int64_t from = heard->onsets.at[nth];
    const int64_t to = heard->onsets.at[nth + 1];
    muta_sums *const sums = &sounds->sums[nth + 1];
    muta_slice *const slice = &sounds->slices[nth];
    const muta_heard_tone *lowest = NULL;

    *sums = sounds->sums[nth];
    slice->low = INT16_MAX;
    slice->level = (uint8_t)muta_heard_level(heard, from);
    slice->third = edge_third(slice->level);
    for (size_t i = 0; i < count; i++) {
        const muta_heard_tone *const tone = &heard->tones.at[active[i]];
        const int64_t end = tone->to < to ? tone->to : to;
        const int64_t lasts =
            muta_sounds_thousandths(sounds, end - from) + (tone->from == from ? ATTACK : 0);
        const int64_t mass = lasts * weight_among(count) / 1000;
        const int32_t place = tone->fifths - sounds->base - MUTA_FIFTHS_LOW;
        const int pitch_class = class_of(sounds, tone);
        sums->mass[pitch_class] += (int32_t)mass;
        const int ways[MUTA_STEPS] = {muta_way_of(tone->came), muta_way_of(tone->went)};
        for (int step = 0; step < MUTA_STEPS; step++)
            if (ways[step] < MUTA_WAYS)
                sums->steps[step][pitch_class][ways[step]] += (int32_t)mass;
        sums->lost[pitch_class] += (int32_t)(mass * weights[active[i]] / 100);
        if (place >= 0 && place < MUTA_FIFTHS_COUNT)
            sums->spelt[place] += (int32_t)mass;
        if (!lowest || tone->midi < lowest->midi)
            lowest = tone;
    }
    if (lowest) {
        slice->low = (int16_t)(lowest->midi + MUTA_CLASSES - muta_fifths_class(sounds->base));
        sums->low[class_of(sounds, lowest)] += (int32_t)muta_sounds_thousandths(sounds, to - from);
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

static void find_next(muta_sounds *sounds)
{
    for (size_t i = sounds->count; i > 0; i--)
        for (int j = 0; j < MUTA_CLASSES; j++)
            sounds->slices[i - 1].next[j] = sounds->sums[i].mass[j] != sounds->sums[i - 1].mass[j]
                                                ? (uint32_t)(i - 1)
                                            : i < sounds->count ? sounds->slices[i].next[j]
                                                                : (uint32_t)sounds->count;
}

/* ---- bars ---- */

static uint8_t metre_of(const muta_metre *metre, const muta_heard_bar *bar)
{
    static const struct {
        int quarters[2];
        uint8_t beat_type;
    } rows[] = {{{2, 1}, 4}, {{3, 1}, 4}, {{4, 1}, 4}, {{3, 1}, 8}, {{3, 2}, 8}};

    for (size_t i = 0; i < MUTA_LENGTH(rows); i++)
        if (metre->beat_type == rows[i].beat_type &&
            muta_fraction_compare(metre->length,
                                  muta_fraction_of(rows[i].quarters[0], rows[i].quarters[1])) == 0)
            return (uint8_t)i;
    return metre->beat_type == 2 ? 5 : bar->is_compound ? 6 : 7;
}

static uint8_t pulse_of(const muta_heard_bar *bar)
{
    return bar->is_compound ? 2 : bar->beats % 3 == 0 ? 1 : bar->beats == 2 ? 3 : 0;
}

/* The metre of each slice, and the lowest tone since its bar began: in a waltz it still stands. */
static void read_bars(muta_sounds *sounds)
{
    const muta_heard *const heard = sounds->heard;
    int64_t start = -1;
    int16_t standing = INT16_MAX;

    for (size_t i = 0; i < sounds->count; i++) {
        muta_slice *const slice = &sounds->slices[i];
        const muta_heard_bar *const bar = muta_heard_bar_at(heard, heard->onsets.at[i]);
        if (bar->from != start || slice->low < standing)
            standing = slice->low;
        start = bar->from;
        slice->standing = standing;
        slice->metre = metre_of(&heard->passage->score->bars[bar->index].metre, bar);
        slice->pulse = pulse_of(bar);
        slice->bar = (int32_t)(bar->to - bar->from + bar->offset);
    }
}

/* ---- edges ---- */

static int64_t beat_at(const muta_heard *heard, int64_t at)
{
    const int64_t beat = muta_heard_bar_at(heard, at)->beat;

    return beat > 0 ? beat : heard->quarter;
}

/* How many tones begin at a moment; the longest of them, in ticks. */
static size_t attacks_at(const muta_heard *heard, int64_t at, int64_t *longest)
{
    size_t count = 0;

    *longest = 0;
    for (size_t i = muta_heard_tone_from(heard, at);
         i < heard->tones.count && heard->tones.at[i].from == at; i++, count++)
        if (heard->tones.at[i].to - at > *longest)
            *longest = heard->tones.at[i].to - at;
    return count;
}

/* Whether the lowest tone of a slice begins there: 0 a new one, 1 the same again, 2 held, 3 none.
 */
static size_t low_of(const muta_sounds *sounds, size_t nth)
{
    const muta_heard *const heard = sounds->heard;
    const muta_slice *const slice = &sounds->slices[nth];
    const int64_t at = heard->onsets.at[nth];
    bool struck = false;

    if (slice->low == INT16_MAX)
        return 3;
    const int32_t midi = slice->low - MUTA_CLASSES + muta_fifths_class(sounds->base);
    for (size_t i = muta_heard_tone_from(heard, at);
         i < heard->tones.count && heard->tones.at[i].from == at; i++)
        struck = struck || heard->tones.at[i].midi == midi;
    if (!struck)
        return 2;
    return nth > 0 && slice[-1].low != INT16_MAX &&
                   slice[-1].low % MUTA_CLASSES == slice->low % MUTA_CLASSES
               ? 1
               : 0;
}

/* The slices that reach a beat back from an onset, or forward. */
static size_t a_beat_from(const muta_sounds *sounds, size_t nth, bool forward)
{
    const int64_t *const onsets = sounds->heard->onsets.at;
    const int64_t beat = beat_at(sounds->heard, onsets[nth]);
    size_t at = nth;

    if (forward)
        while (at < sounds->count && onsets[at] < onsets[nth] + beat)
            at++;
    else
        while (at > 0 && onsets[at] > onsets[nth] - beat)
            at--;
    return at;
}

static int64_t larger(int64_t most, int64_t difference)
{
    return llabs(difference) > most ? llabs(difference) : most;
}

/* What masses are divided by so that the products below stay numbers: ten, or more where tones last
 * as no music's do. */
static int64_t scale_of(const muta_sums *before, const muta_sums *now, const muta_sums *behind)
{
    static const int64_t most = 1 << 14;
    int64_t largest = 0;

    for (int i = 0; i < MUTA_CLASSES; i++) {
        largest = larger(largest, now->mass[i] - before->mass[i]);
        largest = larger(largest, behind->mass[i] - now->mass[i]);
    }
    return larger(HUNDREDTHS, largest / most + 1);
}

/* How much of the beat to come is new, and how alike it is to the beat before: places in rows of
 * six. */
static void compare_beats(const muta_sounds *sounds, size_t nth, size_t *fresh, size_t *alike)
{
    static const int64_t news[] = {0, 150, 300, 500, 800};
    static const int64_t likes[] = {10, 90, 250, 490, 810}; /* squares of .1 .3 .5 .7 .9 */
    const muta_sums *const now = &sounds->sums[nth];
    const muta_sums *const before = &sounds->sums[a_beat_from(sounds, nth, false)];
    const muta_sums *const behind = &sounds->sums[a_beat_from(sounds, nth, true)];
    const int64_t scale = scale_of(before, now, behind);
    int64_t all = 0;
    int64_t is_new = 0;
    int64_t product = 0;
    int64_t one = 0;
    int64_t two = 0;

    for (int i = 0; i < MUTA_CLASSES; i++) {
        const int64_t a = (now->mass[i] - before->mass[i]) / scale;
        const int64_t b = (behind->mass[i] - now->mass[i]) / scale;
        all += b;
        is_new += a <= 0 ? b : 0;
        product += a * b;
        one += a * a;
        two += b * b;
    }
    *fresh = 0;
    while (*fresh < MUTA_LENGTH(news) && all > 0 && is_new * 1000 > news[*fresh] * all)
        ++*fresh;
    *alike = 0;
    while (*alike < MUTA_LENGTH(likes) && one > 0 && two > 0 &&
           product / 1000 * product >= likes[*alike] * (one / 1000 + 1) * two / 1000)
        ++*alike;
}

void muta_sounds_edges(const muta_sounds *sounds, size_t nth, int news, size_t places[MUTA_EDGES])
{
    const muta_slice *const slice = &sounds->slices[nth];
    const int64_t at = sounds->heard->onsets.at[nth];
    const size_t set = (size_t)news;
    static const int64_t lengths[] = {300, 600, 1100, 2100};
    int64_t longest;
    size_t length = 0;
    size_t fresh;
    size_t alike;
    const size_t count = attacks_at(sounds->heard, at, &longest);

    while (length < MUTA_LENGTH(lengths) &&
           longest * 1000 >= lengths[length] * beat_at(sounds->heard, at))
        length++;
    compare_beats(sounds, nth, &fresh, &alike);
    const size_t rows[MUTA_EDGES] = {
        (set * MUTA_METRES + slice->metre) * MUTA_LEVELS + slice->level,
        (set * 4 + low_of(sounds, nth)) * MUTA_LEVELS + slice->level,
        (set * 4 + (count >= FEW ? FEW - 1
                    : count > 0  ? count - 1
                                 : 0)) *
                MUTA_LEVELS +
            slice->level,
        (set * MUTA_SHARES + fresh) * MUTA_THIRDS + slice->third,
        (set * 5 + length) * MUTA_THIRDS + slice->third,
        (set * MUTA_SHARES + alike) * MUTA_THIRDS + slice->third,
    };
    for (int i = 0; i < MUTA_EDGES; i++)
        places[i] = rows[i];
}

static void weigh_edges(muta_sounds *sounds)
{
    const muta_hearing *const hearing = sounds->hearing;
    const int16_t *const blocks[MUTA_EDGES] = {hearing->place, hearing->low,     hearing->attacks,
                                               hearing->fresh, hearing->longest, hearing->alike};

    for (size_t i = 1; i < sounds->count; i++)
        for (int news = 0; news < MUTA_NEWS; news++) {
            size_t places[MUTA_EDGES];
            muta_sounds_edges(sounds, i, news, places);
            for (int j = 0; j < MUTA_EDGES; j++)
                sounds->slices[i].edges[news] += blocks[j][places[j]] * HUNDREDTHS;
        }
}

muta_status muta_sounds_add_up(muta_sounds *sounds)
{
    const muta_heard *const heard = sounds->heard;
    uint32_t *const active = calloc(heard->tones.count + 1, sizeof *active);
    int16_t *const weights = calloc(heard->tones.count + 1, sizeof *weights);
    size_t count = 0;
    size_t next = 0;

    sounds->count = heard->onsets.count - 1;
    sounds->sums = calloc(sounds->count + 1, sizeof *sounds->sums);
    sounds->slices = calloc(sounds->count + 1, sizeof *sounds->slices);
    const bool good = active && weights && sounds->sums && sounds->slices;
    if (good) {
        for (size_t i = 0; i < heard->tones.count; i++)
            weights[i] = sounds->hearing->outside[muta_sounds_outside(heard, &heard->tones.at[i])];
        for (size_t i = 0; i < sounds->count; i++) {
            count = step_active(heard, heard->onsets.at[i], active, count, &next);
            add_slice(sounds, i, active, count, weights);
        }
        find_next(sounds);
        read_bars(sounds);
        weigh_edges(sounds);
    }
    free(active);
    free(weights);
    return good ? MUTA_OK : MUTA_E_MEMORY;
}
