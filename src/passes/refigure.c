/* refigure.c: an accompaniment moved onto other chords in its own figures. */
#include "passes/refigure.h"
#include "base/vec.h"
#include <stdlib.h>
#include <string.h>

enum {
    PITCHES = 24, /* that a chord's figures have, at most */
    REACH = 9,    /* semitones that a tone may move */
    OPTIONS = 16,
    COVERS = 1 << MUTA_CHORD_MOST, /* sets of tones of a chord */
    /* Costs, in thousandths. */
    A_SEMITONE = 100,
    SAME_TONE = 20000, /* two pitches become one */
    DOUBLED = 1500,    /* the leading tone or a seventh, once more */
    CROSSED = 100000,
    NO_THIRD = 2500, /* a tone of the chord that nothing has */
    NO_SEVENTH = 1500,
    NO_ROOT = 800,
    NO_FIFTH = 100,
    STRETCHED = 300,    /* each semitone that a gap grows by more than a third */
    OCTAVE_LOST = 1500, /* two tones an octave apart, no more */
    LEFT_BEHIND = 2500, /* a tone is held into a chord that does not have it */
    LED = 60,           /* each semitone from where the voice was under the chord before */
    UNRESOLVED = 5000, /* a seventh that does not fall by step, a leading tone that does not rise */
    OVERLAPPING = 3000, /* a voice goes below where the one under it was */
    PARALLEL = 6000     /* two voices go in fifths */
};

/* A best way through the pitches up to one, that ends with an option and covers a set of tones. */
struct way {
    int64_t cost;
    uint8_t option; /* of the pitch before */
    uint8_t covers;
};

/* What becomes of one pitch of the figures under one chord. */
struct moved {
    muta_pitch from;
    int semitones;
    muta_pitch options[OPTIONS];
    uint8_t tones[OPTIONS]; /* which tone of the chord each is */
    uint8_t option_count;
    bool is_bass;
    muta_fraction until; /* when the last of its tones ends */
    muta_pitch to;
};

/* A tone, to be put in order of time. */
struct timed {
    muta_fraction onset;
    uint32_t tone;
};

struct refiguring {
    const muta_passage *in;
    muta_passage *out;
    muta_texture work; /* of `out` */
    const muta_passage_chord *old;
    const muta_passage_chord *now;
    struct moved pitches[PITCHES]; /* the lowest first */
    size_t count;
    struct moved before[PITCHES]; /* the same under the chord before */
    size_t before_count;
    const muta_passage_chord *before_chord;
    int tune; /* what it sounds first under the chord, in semitones, and under that before; 0: none
               */
    int tune_before;
    uint8_t covered;                     /* tones of the new chord that the tune has */
    struct way (*ways)[OPTIONS][COVERS]; /* by pitch */
    bool *done;                          /* by tone */
    bool *doubles;                       /* by tone: it goes with the tune */
    struct timed *order;
};

/* What may move: not the tune, nor what goes with it in octaves or in unison. */
static bool is_figure(const struct refiguring *work, uint32_t tone)
{
    return !work->work.tones[tone].is_tune && !work->work.tones[tone].is_fixed &&
           !work->doubles[tone];
}

/* The tone of the tune that begins with the nth in time; NULL when none does. */
static const muta_tone *tune_with(const struct refiguring *work, size_t nth)
{
    const size_t count = work->work.tone_count;
    size_t first = nth;

    while (first > 0 &&
           muta_fraction_compare(work->order[first - 1].onset, work->order[nth].onset) == 0)
        first--;
    for (size_t i = first;
         i < count && muta_fraction_compare(work->order[i].onset, work->order[nth].onset) == 0; i++)
        if (work->work.tones[work->order[i].tone].is_tune)
            return &work->work.tones[work->order[i].tone];
    return NULL;
}

/* Whether a tone has the tune's pitch class as it begins. */
static bool is_with_tune(const struct refiguring *work, size_t nth)
{
    const muta_tone *const tone = &work->work.tones[work->order[nth].tone];
    const muta_tone *const tune = tone->is_tune || tone->is_bass ? NULL : tune_with(work, nth);

    return tune &&
           (muta_pitch_semitones(tune->pitch) - muta_pitch_semitones(tone->pitch)) % 12 == 0;
}

/* A line goes with the tune where two of its tones, one behind the other, are the tune's. */
static void find_doubles(struct refiguring *work, bool *with)
{
    const muta_tone *const tones = work->work.tones;
    const size_t count = work->work.tone_count;

    for (size_t i = 0; i < count; i++)
        with[work->order[i].tone] = is_with_tune(work, i);
    for (uint32_t i = 0; i < count; i++) {
        const bool before = i > 0 && with[i - 1] && tones[i - 1].line == tones[i].line &&
                            tones[i - 1].event + 1 == tones[i].event;
        const bool behind = i + 1 < count && with[i + 1] && tones[i + 1].line == tones[i].line &&
                            tones[i + 1].event == tones[i].event + 1;
        work->doubles[i] = with[i] && (before || behind);
    }
}

/* ---- the pitches of the figures ---- */

static void add_pitch(struct refiguring *work, muta_pitch pitch, bool is_bass, muta_fraction until)
{
    const int semitones = muta_pitch_semitones(pitch);
    size_t at = work->count;

    for (size_t i = 0; i < work->count; i++)
        if (work->pitches[i].semitones == semitones) {
            work->pitches[i].is_bass = work->pitches[i].is_bass || is_bass;
            work->pitches[i].until = muta_fraction_max(work->pitches[i].until, until);
            return;
        }
    if (work->count == PITCHES)
        return;
    for (; at > 0 && work->pitches[at - 1].semitones > semitones; at--)
        work->pitches[at] = work->pitches[at - 1];
    work->pitches[at] =
        (struct moved){.from = pitch, .semitones = semitones, .is_bass = is_bass, .until = until};
    work->count++;
}

/* Those that belong to the old chord, each once; and what the tune has of the new one. */
static void find_pitches(struct refiguring *work, size_t first, size_t end)
{
    const int root = muta_fifths_class(work->now->root);

    work->count = 0;
    work->covered = 0;
    work->tune_before = work->tune;
    work->tune = 0;
    for (size_t i = first; i < end; i++) {
        const muta_tone *const tone = &work->work.tones[work->order[i].tone];
        if (is_figure(work, work->order[i].tone) && muta_passage_chord_has(work->old, tone->pitch))
            add_pitch(work, tone->pitch, tone->is_bass,
                      muta_fraction_add(work->order[i].onset, tone->duration));
        const int of = muta_chord_tone(work->now->kind, muta_pitch_semitones(tone->pitch) - root);
        if (tone->is_tune && work->tune == 0)
            work->tune = muta_pitch_semitones(tone->pitch);
        if (tone->is_tune && of >= 0)
            work->covered |= (uint8_t)(1U << of);
    }
}

/* The tones of the new chord near a pitch; the lowest pitch is the bass, if the bass is here. */
static void find_options(struct refiguring *work, size_t nth)
{
    const muta_chord_row *const row = muta_chord_row_of(work->now->kind);
    struct moved *const moved = &work->pitches[nth];

    for (uint8_t tone = 0; tone < row->count; tone++) {
        if (nth == 0 && moved->is_bass && tone != work->now->bass)
            continue;
        for (int octave = muta_pitch_octave(moved->from) - 1;
             octave <= muta_pitch_octave(moved->from) + 1; octave++) {
            const muta_pitch pitch = muta_fifths_pitch(work->now->root + row->fifths[tone], octave);
            if (octave < 0 || abs(muta_pitch_semitones(pitch) - moved->semitones) > REACH ||
                moved->option_count == OPTIONS)
                continue;
            moved->tones[moved->option_count] = tone;
            moved->options[moved->option_count++] = pitch;
        }
    }
}

/* A hand that had an octave, or less, is not asked for much more. */
static int64_t price_gap(const struct moved *moved, int gap)
{
    enum {
        A_THIRD = 4,
        AN_OCTAVE = 12
    };
    const int was = moved->semitones - moved[-1].semitones;
    const int grown = gap - was - A_THIRD;

    return (was == AN_OCTAVE && gap != AN_OCTAVE ? OCTAVE_LOST : 0) +
           (grown > 0 ? (int64_t)grown * STRETCHED : 0);
}

/* A tone that is held into later chords belongs to them too, as far as that is to be had. */
static int64_t price_held(const struct refiguring *work, const struct moved *moved, muta_pitch to)
{
    const muta_passage_chord *const end = work->out->chords + work->out->chord_count;
    int64_t cost = 0;

    for (const muta_passage_chord *chord = work->now + 1;
         chord < end && muta_fraction_compare(chord->from, moved->until) < 0; chord++)
        cost += muta_passage_chord_has(chord, to) ? 0 : LEFT_BEHIND;
    return cost;
}

/* Where a voice was under the chord before, by where it was in the old figures; NULL at first. */
static const struct moved *before_of(const struct refiguring *work, const struct moved *moved)
{
    const struct moved *nearest = NULL;

    for (size_t i = 0; i < work->before_count; i++)
        if (!nearest || abs(work->before[i].semitones - moved->semitones) <
                            abs(nearest->semitones - moved->semitones))
            nearest = &work->before[i];
    return nearest;
}

static bool is_seventh(const muta_passage_chord *chord, muta_pitch pitch)
{
    const int above = muta_pitch_semitones(pitch) - muta_fifths_class(chord->root);
    const muta_chord_row *const row = muta_chord_row_of(chord->kind);

    return muta_chord_tone(chord->kind, above) == 3 && row->classes[3] >= 9 &&
           chord->kind != MUTA_CHORD_GERMAN && chord->kind != MUTA_CHORD_FRENCH;
}

/* Whether a voice goes with the tune in fifths or octaves. */
static bool follows_tune(const struct refiguring *work, int from, int to)
{
    const int was = (work->tune_before - from) % 12;

    return work->tune && work->tune_before && work->tune != work->tune_before && from != to &&
           (was == 7 || was == 0) && (work->tune - to) % 12 == was;
}

/* Where the lowest voice goes as a rule: the nearest of its tones. */
static int expected_bass(const struct refiguring *work)
{
    const struct moved *const lowest = &work->pitches[0];
    int best = muta_pitch_semitones(lowest->options[0]);

    for (uint8_t i = 1; i < lowest->option_count; i++) {
        const int other = muta_pitch_semitones(lowest->options[i]);
        if (abs(other - lowest->semitones) < abs(best - lowest->semitones))
            best = other;
    }
    return best;
}

/* Whether an upper voice goes with the lowest in fifths. */
static bool follows_bass(const struct refiguring *work, const struct moved *moved, int from, int to)
{
    const struct moved *const bass = before_of(work, &work->pitches[0]);

    return moved > &work->pitches[1] && from != to &&
           (from - muta_pitch_semitones(bass->to)) % 12 == 7 &&
           (to - expected_bass(work)) % 12 == 7;
}

/* Whether a seventh that has to fall, or a leading tone that has to rise (or to fall to the fifth
 * of its tonic), goes elsewhere. */
static bool is_unresolved(const struct refiguring *work, muta_pitch from, int moves)
{
    const muta_passage_chord *const was = work->before_chord;
    const int32_t leading = muta_chord_leading(was->kind, was->root, was->tonic);

    if (is_seventh(was, from) && !muta_passage_chord_has(work->now, from))
        return moves != -1 && moves != -2;
    return leading != MUTA_NO_LEADING && muta_pitch_fifths(from) == leading &&
           muta_fifths_class(work->now->root) == (muta_fifths_class(leading) + 1) % 12 &&
           moves != 1 && moves != -4;
}

/* How a voice is led from the chord before. */
static int64_t price_leading(const struct refiguring *work, const struct moved *moved,
                             muta_pitch to, const muta_pitch *below)
{
    const struct moved *const was = before_of(work, moved);
    const struct moved *const under = below ? before_of(work, moved - 1) : NULL;

    if (!was)
        return 0;
    const int moves = muta_pitch_semitones(to) - muta_pitch_semitones(was->to);
    int64_t cost = (int64_t)abs(moves) * LED;
    if (is_unresolved(work, was->to, moves))
        cost += UNRESOLVED;
    if (under && under != was &&
        (muta_pitch_semitones(to) < muta_pitch_semitones(under->to) ||
         muta_pitch_semitones(*below) > muta_pitch_semitones(was->to)))
        cost += OVERLAPPING;
    if (follows_tune(work, muta_pitch_semitones(was->to), muta_pitch_semitones(to)) ||
        follows_bass(work, moved, muta_pitch_semitones(was->to), muta_pitch_semitones(to)))
        cost += PARALLEL;
    if (under && under != was && moves != 0 &&
        (muta_pitch_semitones(was->to) - muta_pitch_semitones(under->to)) % 12 == 7 &&
        (muta_pitch_semitones(to) - muta_pitch_semitones(*below)) % 12 == 7)
        cost += PARALLEL;
    return cost;
}

/* How dear it is that a voice goes to `to`, where the one below it went to `below`. */
static int64_t price(const struct refiguring *work, const struct moved *moved, muta_pitch to,
                     const muta_pitch *below)
{
    int64_t cost = (int64_t)abs(muta_pitch_semitones(to) - moved->semitones) * A_SEMITONE;

    if (below)
        cost += price_gap(moved, muta_pitch_semitones(to) - muta_pitch_semitones(*below));
    cost += price_held(work, moved, to) + price_leading(work, moved, to, below);
    if (below && muta_pitch_semitones(to) < muta_pitch_semitones(*below))
        cost += CROSSED;
    if (below && muta_pitch_semitones(to) == muta_pitch_semitones(*below))
        cost += SAME_TONE;
    return cost;
}

/* What a chord lacks. */
static int64_t price_lacking(const struct refiguring *work, unsigned covers)
{
    static const int16_t prices[MUTA_CHORD_MOST] = {NO_ROOT, NO_THIRD, NO_FIFTH, NO_SEVENTH,
                                                    NO_FIFTH};
    const muta_chord_row *const row = muta_chord_row_of(work->now->kind);
    int64_t price_of_all = 0;

    for (uint8_t i = 0; i < row->count; i++)
        price_of_all += covers & (1U << i) ? 0 : prices[i];
    return price_of_all;
}

/* Whether a tone is there once at most: the leading tone, a seventh. */
static bool is_single(const struct refiguring *work, muta_pitch pitch)
{
    const int32_t leading = muta_chord_leading(work->now->kind, work->now->root, work->now->tonic);

    return (leading != MUTA_NO_LEADING && muta_pitch_fifths(pitch) == leading) ||
           is_seventh(work->now, pitch);
}

/* All ways that end with one option of a pitch. */
static void extend(struct refiguring *work, size_t nth, uint8_t option)
{
    const struct moved *const moved = &work->pitches[nth];
    struct way *const to = work->ways[nth][option];
    const unsigned adds = 1U << moved->tones[option];
    const int64_t again = is_single(work, moved->options[option]) ? DOUBLED : 0;

    for (unsigned covers = 0; covers < COVERS; covers++)
        to[covers].cost = INT64_MAX;
    if (nth == 0)
        to[work->covered | adds].cost = price(work, moved, moved->options[option], NULL);
    for (uint8_t i = 0; nth > 0 && i < work->pitches[nth - 1].option_count; i++) {
        const int64_t each =
            price(work, moved, moved->options[option], &work->pitches[nth - 1].options[i]);
        for (unsigned covers = 0; covers < COVERS; covers++) {
            const int64_t before = work->ways[nth - 1][i][covers].cost;
            struct way *const way = &to[covers | adds];
            const int64_t cost = each + (covers & adds ? again : 0);
            if (before != INT64_MAX && before + cost < way->cost)
                *way = (struct way){before + cost, i, (uint8_t)covers};
        }
    }
}

/* The best way through all pitches, the lowest first: a dynamic program over their options and what
 * of the chord is there. */
static void move_pitches(struct refiguring *work)
{
    const size_t last = work->count - 1;
    int64_t least = INT64_MAX;
    uint8_t option = 0;
    uint8_t covers = 0;

    for (size_t i = 0; i <= last; i++)
        for (uint8_t j = 0; j < work->pitches[i].option_count; j++)
            extend(work, i, j);
    for (uint8_t j = 0; j < work->pitches[last].option_count; j++)
        for (unsigned k = 0; k < COVERS; k++) {
            const int64_t cost = work->ways[last][j][k].cost;
            if (cost == INT64_MAX || cost + price_lacking(work, k) >= least)
                continue;
            least = cost + price_lacking(work, k);
            option = j;
            covers = (uint8_t)k;
        }
    for (size_t i = work->count; i > 0; i--) {
        const struct way way = work->ways[i - 1][option][covers];
        work->pitches[i - 1].to = work->pitches[i - 1].options[option];
        option = way.option;
        covers = way.covers;
    }
}

/* ---- the tones ---- */

static const struct moved *find_moved(const struct refiguring *work, muta_pitch pitch)
{
    for (size_t i = 0; i < work->count; i++)
        if (work->pitches[i].semitones == muta_pitch_semitones(pitch))
            return &work->pitches[i];
    return NULL;
}

static void set_chord_tones(struct refiguring *work, size_t first, size_t end)
{
    for (size_t i = first; i < end; i++) {
        muta_tone *const tone = &muta_passage_tones(work->out)[work->order[i].tone];
        const struct moved *const moved =
            is_figure(work, work->order[i].tone) && muta_passage_chord_has(work->old, tone->pitch)
                ? find_moved(work, tone->pitch)
                : NULL;
        if (!moved)
            continue;
        muta_passage_set_pitch(work->out, tone, moved->to);
        work->done[work->order[i].tone] = true;
    }
}

/* The tone of the same line, as it was, that a foreign one leans on: the next that is done. */
static size_t anchor_of(const struct refiguring *work, size_t foreign)
{
    const muta_tone *const tones = work->work.tones;
    const uint32_t line = tones[foreign].line;
    const size_t count = work->work.tone_count;

    for (size_t i = foreign + 1; i < count && i < foreign + 6 && tones[i].line == line; i++)
        if (work->done[i])
            return i;
    for (size_t i = foreign; i > 0 && i + 6 > foreign && tones[i - 1].line == line; i--)
        if (work->done[i - 1])
            return i - 1;
    return SIZE_MAX;
}

/* Where a foreign tone at the same moment and of the same pitch, in another voice, went; or NULL.
 */
static const muta_pitch *moved_alike(const struct refiguring *work, size_t first, size_t nth)
{
    const muta_texture was = muta_passage_work(work->in);
    const muta_pitch pitch = was.tones[work->order[nth].tone].pitch;

    for (size_t i = nth; i > first; i--) {
        const uint32_t other = work->order[i - 1].tone;
        if (muta_fraction_compare(work->order[i - 1].onset, work->order[nth].onset) != 0)
            break;
        if (is_figure(work, other) && muta_pitch_is_equal(was.tones[other].pitch, pitch))
            return &work->work.tones[other].pitch;
    }
    return NULL;
}

/* Foreign tones go along the new chord's scale with what they lean on. */
static void set_foreign_tones(struct refiguring *work, size_t first, size_t end)
{
    for (size_t i = first; i < end; i++) {
        muta_tone *const tone = &muta_passage_tones(work->out)[work->order[i].tone];
        if (!is_figure(work, work->order[i].tone) || work->done[work->order[i].tone])
            continue;
        const muta_pitch *const same = moved_alike(work, first, i);
        const size_t anchor = anchor_of(work, work->order[i].tone);
        if (same)
            muta_passage_set_pitch(work->out, tone, *same);
        if (same || anchor == SIZE_MAX)
            continue;
        const int32_t steps =
            tone->pitch.place - muta_passage_work(work->in).tones[anchor].pitch.place;
        muta_passage_set_pitch(
            work->out, tone,
            muta_pitch_step_in(work->now, muta_passage_fifths_at(work->out, tone, work->now->from),
                               work->work.tones[anchor].pitch, steps));
    }
}

/* Whether another tone of the same stem has this sound. */
static bool is_taken(const struct refiguring *work, uint32_t tone, muta_pitch pitch)
{
    const muta_event *const event = &work->work.events[work->work.tones[tone].event];

    for (uint32_t i = event->tone; i < event->tone + event->tone_count; i++)
        if (i != tone && muta_pitch_sound(work->work.tones[i].pitch) == muta_pitch_sound(pitch))
            return true;
    return false;
}

/* Tones of one stem that met part again: one goes up to the next free tone of the chord. */
static void part_tones(struct refiguring *work, size_t first, size_t end)
{
    enum {
        AN_OCTAVE = 7 /* in places */
    };

    for (size_t i = first; i < end; i++) {
        const uint32_t nth = work->order[i].tone;
        muta_tone *const tone = &muta_passage_tones(work->out)[nth];
        const int32_t fifths = muta_passage_fifths_at(work->out, tone, work->now->from);
        if (!is_figure(work, nth) || !is_taken(work, nth, tone->pitch))
            continue;
        for (int32_t steps = 1; steps <= AN_OCTAVE; steps++) {
            const muta_pitch to = muta_pitch_step_in(work->now, fifths, tone->pitch, steps);
            if (!muta_passage_chord_has(work->now, to) || is_taken(work, nth, to))
                continue;
            muta_passage_set_pitch(work->out, tone, to);
            break;
        }
    }
}

/* Moves the figures of one chord; false when they have no place in the new one. */
static bool move_figures(struct refiguring *work)
{
    for (size_t i = 0; i < work->count; i++) {
        find_options(work, i);
        if (work->pitches[i].option_count == 0)
            return false;
    }
    move_pitches(work);
    return true;
}

/* Under one chord: the tones [first, end) in order of time. */
static void refigure_chord(struct refiguring *work, size_t first, size_t end)
{
    find_pitches(work, first, end);
    if (work->count == 0)
        return;
    for (size_t i = 0; i < work->count; i++)
        work->pitches[i].to = work->pitches[i].from;
    if (!muta_passage_chord_is_same(work->old, work->now) && move_figures(work)) {
        set_chord_tones(work, first, end);
        set_foreign_tones(work, first, end);
        part_tones(work, first, end);
    }
    memcpy(work->before, work->pitches, work->count * sizeof *work->pitches);
    work->before_count = work->count;
    work->before_chord = work->now;
}

/* Each chord with the tones that begin under it. */
static void refigure_all(struct refiguring *work)
{
    const size_t count = work->work.tone_count;
    size_t first = 0;

    for (size_t i = 0; i < work->out->chord_count; i++) {
        size_t end;
        work->now = &work->out->chords[i];
        work->old = muta_passage_chord_at(work->in, work->now->from);
        while (first < count &&
               muta_fraction_compare(work->order[first].onset, work->now->from) < 0)
            first++;
        for (end = first;
             end < count && muta_fraction_compare(work->order[end].onset, work->now->to) < 0; end++)
            ;
        if (work->old)
            refigure_chord(work, first, end);
        first = end;
    }
}

static int in_order(const void *a, const void *b)
{
    const struct timed *const one = a;
    const struct timed *const two = b;
    const int by_time = muta_fraction_compare(one->onset, two->onset);

    return by_time != 0 ? by_time : one->tone < two->tone ? -1 : one->tone > two->tone;
}

muta_status muta_refigure(const muta_passage *in, muta_passage *out)
{
    struct refiguring work = {.in = in, .out = out, .work = muta_passage_work(out)};
    const size_t count = work.work.tone_count;

    work.done = calloc(count + 1, sizeof *work.done);
    work.doubles = calloc(count + 1, sizeof *work.doubles);
    bool *const with = calloc(count + 1, sizeof *with);
    work.order = malloc((count + 1) * sizeof *work.order);
    work.ways = malloc(PITCHES * sizeof *work.ways);
    const bool good = work.done && work.doubles && with && work.order && work.ways;
    for (uint32_t i = 0; good && i < count; i++)
        work.order[i] = (struct timed){work.work.events[work.work.tones[i].event].onset, i};
    if (good) {
        muta_sort(work.order, count, sizeof *work.order, in_order);
        find_doubles(&work, with);
        refigure_all(&work);
    }
    free(work.done);
    free(work.doubles);
    free(with);
    free(work.order);
    free(work.ways);
    return good ? MUTA_OK : MUTA_E_MEMORY;
}
