/* refigure.c: an accompaniment moved onto other chords in its own figures. */
#include "passes/refigure.h"
#include "base/search.h"
#include "base/vec.h"
#include "passes/choir.h"
#include "theory/voicing.h"
#include <limits.h>
#include <stdlib.h>
#include <string.h>

enum {
    PITCHES = 64, /* that a chord's figures have, at most */
    REACH = 12,   /* semitones that a tone may move */
    OPTIONS = 16,
    STANDS = 24, /* ways in which the figures of a chord may stand, at most */
    NO_PITCH = 255,
    SHARE = 300, /* of what rules of part-writing weigh, in thousandths: figures are no choir */
    /* Costs, in thousandths, set by hand: of how they stand, */
    A_SEMITONE = 100,
    SAME_TONE = 20000, /* two pitches become one, */
    FLATTENED = 4000,  /* of which one came behind the other, */
    UNISON = 2000,     /* or that two voices have */
    CROSSED = 100000,
    ABOVE_TUNE = 4000,  /* what was below it */
    FROM_TUNE = 2000,   /* what had the very tone that the tune holds goes away from it */
    BENT = 80,          /* each semitone by which a figure of one hand has another shape */
    OCTAVE_LOST = 6000, /* two tones an octave apart, no more */
    TOP_AS_BASS = 2500, /* the highest, where the tune does not lie above, has the bass's tone */
    /* and of how they are led from those before. */
    LED = 60,         /* each semitone, */
    BASS_LEAP = 1500, /* the bass by a seventh, */
    BASS_FAR = 4000,  /* or by more than an octave */
};

#define NO_TONE UINT32_MAX

/* What becomes of one pitch of the figures under one chord. */
struct moved {
    muta_pitch from;
    muta_pitch to;
    muta_pitch options[OPTIONS];
    muta_fraction since; /* when the first of its tones begins */
    muta_fraction until; /* when the last of them ends */
    int semitones;
    uint32_t part;          /* that has it */
    uint32_t line;          /* that had it first */
    uint8_t tones[OPTIONS]; /* which tone of the chord each option is */
    uint8_t option_count;
    uint8_t before; /* where its voice was under the chord before: which pitch; or NO_PITCH */
    uint8_t voices; /* that have it together */
    bool is_bass;
};

/* One way in which the figures stand. */
struct stand {
    int64_t cost;           /* by itself */
    uint8_t taken[PITCHES]; /* which option, by pitch */
    uint8_t covers;         /* the tones of the chord that are there */
};

/* The figures of one chord. */
struct figures {
    const muta_passage_chord *old;
    const muta_passage_chord *now;
    size_t first; /* its tones, in order of time */
    size_t end;
    struct moved *pitches; /* the lowest first */
    size_t count;
    muta_harmony_slot slot; /* the new chord, for the rules of part-writing */
    const muta_tone *sung;  /* of the tune, as the chord begins; or NULL */
    bool is_choir;          /* each voice has a line of its own */
    int tune;               /* what the tune sounds first, in semitones; 0: nothing, */
    int tune_end;           /* and last */
    uint8_t covered;        /* tones of the new chord that the tune has */
    bool stays;             /* the chord is what it was, or has no place for them */
    struct stand *stands;
    size_t stand_count;
};

/* What a part's instrument has, in semitones. */
struct range {
    int low;
    int high;
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
    muta_arena arena;
    MUTA_VEC(struct figures) figures; /* of the chords that have some */
    const muta_tone *sung;            /* the tone of the tune that was met last */
    struct range *ranges;             /* by part */
    muta_pitch *was;                  /* by tone */
    bool *done;                       /* by tone */
    bool *doubles;                    /* by tone: it goes with the tune */
    struct timed *order;
};

/* What may move: not the tune, nor what goes with it in octaves or in unison. */
static bool is_figure(const struct refiguring *work, uint32_t tone)
{
    return !work->work.tones[tone].is_tune && !work->work.tones[tone].is_fixed &&
           !work->doubles[tone];
}

/* The tone of the tune that begins with the nth in time; NO_TONE when none does. */
static uint32_t tune_with(const struct refiguring *work, size_t nth)
{
    const size_t count = work->work.tone_count;
    size_t first = nth;

    while (first > 0 &&
           muta_fraction_compare(work->order[first - 1].onset, work->order[nth].onset) == 0)
        first--;
    for (size_t i = first;
         i < count && muta_fraction_compare(work->order[i].onset, work->order[nth].onset) == 0; i++)
        if (work->work.tones[work->order[i].tone].is_tune)
            return work->order[i].tone;
    return NO_TONE;
}

/* Whether a tone has the pitch class that the tune had as it begins. */
static bool is_with_tune(const struct refiguring *work, size_t nth)
{
    const muta_tone *const tone = &work->work.tones[work->order[nth].tone];
    const muta_tone *const before = muta_passage_work(work->in).tones;
    const uint32_t tune = tone->is_tune || tone->is_bass ? NO_TONE : tune_with(work, nth);

    return tune != NO_TONE &&
           (muta_pitch_semitones(before[tune].pitch) - muta_pitch_semitones(tone->pitch)) % 12 == 0;
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

/* What doubles the tune goes where that has gone. */
static void double_tune(struct refiguring *work)
{
    const muta_tone *const before = muta_passage_work(work->in).tones;

    for (size_t i = 0; i < work->work.tone_count; i++) {
        muta_tone *const tone = &muta_passage_tones(work->out)[work->order[i].tone];
        if (!work->doubles[work->order[i].tone])
            continue;
        const uint32_t tune = tune_with(work, i);
        muta_pitch to = work->work.tones[tune].pitch;
        to.place += tone->pitch.place - before[tune].pitch.place;
        muta_passage_set_pitch(work->out, tone, to);
    }
}

/* ---- the pitches of the figures ---- */

static muta_fraction end_of(const struct refiguring *work, const muta_tone *tone)
{
    return muta_fraction_add(work->work.events[tone->event].onset, tone->duration);
}

/* Whether a line had a pitch of its own under the chord before. */
static bool was_apart(const struct figures *before, uint32_t line)
{
    for (size_t i = 0; before && i < before->count; i++)
        if (before->pitches[i].line == line)
            return true;
    return false;
}

/* The pitch of these semitones: that of the line, if it has one, else any; NULL for none. */
static struct moved *find_moved(const struct figures *figures, int semitones, uint32_t line)
{
    struct moved *found = NULL;

    for (size_t i = 0; i < figures->count; i++)
        if (figures->pitches[i].semitones == semitones &&
            (!found || figures->pitches[i].line == line))
            found = &figures->pitches[i];
    return found;
}

/* Each pitch once; voices that met on it, and were apart before, have one each. */
static void add_pitch(struct figures *figures, const struct figures *before,
                      const struct moved *pitch)
{
    struct moved *const same = find_moved(figures, pitch->semitones, pitch->line);
    struct moved *const pitches = figures->pitches;
    size_t at = figures->count;

    if (same && (same->line == pitch->line || !was_apart(before, pitch->line))) {
        same->voices = (uint8_t)(same->voices + (same->line != pitch->line));
        same->is_bass = same->is_bass || pitch->is_bass;
        same->until = muta_fraction_max(same->until, pitch->until);
        return;
    }
    if (figures->count == PITCHES)
        return;
    for (; at > 0 && pitches[at - 1].semitones > pitch->semitones; at--)
        pitches[at] = pitches[at - 1];
    pitches[at] = *pitch;
    figures->count++;
}

static void hear_tune(struct figures *figures, const muta_tone *tone)
{
    const int semitones = muta_pitch_semitones(tone->pitch);
    const int of = muta_chord_tone(figures->now->value.kind,
                                   semitones - muta_fifths_class(figures->now->value.root));

    if (figures->tune == 0)
        figures->tune = semitones;
    figures->tune_end = semitones;
    if (of >= 0)
        figures->covered |= (uint8_t)(1U << of);
}

/* Whether a tone is a figure's own: of the old chord, or the bass on which the new one comes. */
static bool belongs(const struct figures *figures, const struct timed *timed, const muta_tone *tone)
{
    return muta_passage_chord_has(figures->old, tone->pitch) ||
           (tone->is_bass && muta_fraction_compare(timed->onset, figures->now->from) == 0);
}

/* Those that belong to the old chord, each once; and what the tune has of the new one. */
static muta_status find_pitches(struct refiguring *work, struct figures *figures)
{
    const muta_fraction from = figures->now->from;
    const struct figures *const before =
        work->figures.count > 0 ? &work->figures.at[work->figures.count - 1] : NULL;
    struct moved found[PITCHES];

    figures->pitches = found;
    if (work->sung && muta_fraction_compare(end_of(work, work->sung), from) > 0) {
        figures->sung = work->sung;
        hear_tune(figures, work->sung);
    }
    for (size_t i = figures->first; i < figures->end; i++) {
        const muta_tone *const tone = &work->work.tones[work->order[i].tone];
        const int semitones = muta_pitch_semitones(tone->pitch);
        const struct moved pitch = {.from = tone->pitch,
                                    .semitones = semitones,
                                    .before = NO_PITCH,
                                    .part = work->work.lines[tone->line].part,
                                    .voices = 1,
                                    .line = tone->line,
                                    .is_bass = tone->is_bass,
                                    .since = work->order[i].onset,
                                    .until = end_of(work, tone),
                                    .to = tone->pitch};
        if (is_figure(work, work->order[i].tone) && belongs(figures, &work->order[i], tone))
            add_pitch(figures, before, &pitch);
        if (tone->is_tune)
            hear_tune(figures, tone);
        if (tone->is_tune && muta_fraction_compare(work->order[i].onset, from) == 0)
            figures->sung = tone;
        work->sung = tone->is_tune ? tone : work->sung;
    }
    figures->pitches =
        muta_arena_take_array(&work->arena, figures->count + 1, sizeof *figures->pitches);
    if (!figures->pitches)
        return MUTA_E_MEMORY;
    memcpy(figures->pitches, found, figures->count * sizeof *found);
    return MUTA_OK;
}

static bool begins(const struct figures *figures, const struct moved *moved)
{
    return muta_fraction_compare(moved->since, figures->now->from) == 0;
}

/* Whether a pitch has the bass of the chord: what is the bass as that begins; or else, if the bass
 * is here, the lowest. */
static bool has_bass(const struct figures *figures, size_t nth)
{
    for (size_t i = 0; i < figures->count; i++)
        if (figures->pitches[i].is_bass && begins(figures, &figures->pitches[i]))
            return nth == i;
    return nth == 0 && figures->pitches[0].is_bass;
}

/* The tones of the new chord near a pitch. */
static void find_options(const struct figures *figures, size_t nth)
{
    const muta_chord_row *const row = muta_chord_row_of(figures->now->value.kind);
    struct moved *const moved = &figures->pitches[nth];

    for (uint8_t tone = 0; tone < row->count; tone++) {
        if (has_bass(figures, nth) && tone != figures->now->value.bass)
            continue;
        for (int octave = muta_pitch_octave(moved->from) - 1;
             octave <= muta_pitch_octave(moved->from) + 1; octave++) {
            const muta_pitch pitch =
                muta_fifths_pitch(figures->now->value.root + row->fifths[tone], octave);
            if (octave < 0 || abs(muta_pitch_semitones(pitch) - moved->semitones) > REACH ||
                moved->option_count == OPTIONS)
                continue;
            moved->tones[moved->option_count] = tone;
            moved->options[moved->option_count++] = pitch;
        }
    }
}

/* ---- how they stand ---- */

/* A hand that had an octave, or less, is not asked for much more; players side by side, the lowest
 * aside, are not parted by more than an octave. */
static int64_t price_gap(const struct figures *figures, size_t nth, int gap)
{
    enum {
        A_THIRD = 4,
        A_SIXTH = 9, /* by which a hand may jump farther */
        AN_OCTAVE = 12
    };
    const struct moved *const moved = &figures->pitches[nth];
    const int was = moved->semitones - moved[-1].semitones;
    const bool is_hand = moved->part == moved[-1].part;
    const bool jumps = muta_fraction_compare(moved->since, moved[-1].since) != 0;
    const int widest = is_hand           ? was + (jumps ? A_SIXTH : A_THIRD)
                       : was > AN_OCTAVE ? was
                                         : AN_OCTAVE;
    const int grown = gap - widest;

    const int bent = abs(gap - was) - 1; /* major and minor are one shape */

    return (is_hand && !figures->is_choir && bent > 0 ? (int64_t)bent * BENT : 0) +
           (grown > 0 && (is_hand || nth > 1) ? grown * muta_rule_price(MUTA_RULE_HAND, SHARE) : 0);
}

/* Tones that one hand strikes together stay within an octave, or what they were within; octaves
 * stay octaves. */
static int64_t price_grip(const struct figures *figures, const struct stand *below, size_t nth,
                          int semitones)
{
    enum {
        AN_OCTAVE = 12
    };
    const struct moved *const moved = &figures->pitches[nth];
    int64_t price = 0;

    for (size_t i = 0; i < nth; i++) {
        const struct moved *const low = &figures->pitches[i];
        const int was = moved->semitones - low->semitones;
        const int is = semitones - muta_pitch_semitones(low->options[below->taken[i]]);
        const int widest = was > AN_OCTAVE ? was : AN_OCTAVE;
        const bool is_together = muta_fraction_compare(low->since, moved->since) == 0;
        const bool is_own = low->line == moved->line;
        if (low->part == moved->part && (is_together || is_own) && was == AN_OCTAVE &&
            is != AN_OCTAVE)
            price += OCTAVE_LOST;
        if (is_together && is_own && is > widest)
            price += (is - widest) * muta_rule_price(MUTA_RULE_HAND, SHARE);
    }
    return price;
}

/* A tone that is held into later chords belongs to them too, as far as that is to be had. */
static int64_t price_held(const struct refiguring *work, const struct figures *figures,
                          const struct moved *moved, muta_pitch to)
{
    const muta_passage_chord *const end = work->out->chords + work->out->chord_count;
    int64_t cost = 0;

    for (const muta_passage_chord *chord = figures->now + 1;
         chord < end && muta_fraction_compare(chord->from, moved->until) < 0; chord++)
        cost += muta_passage_chord_has(chord, to) ? 0 : muta_rule_price(MUTA_RULE_HELD, SHARE);
    return cost;
}

static bool is_seventh(const muta_passage_chord *chord, muta_pitch pitch)
{
    const int above = muta_pitch_semitones(pitch) - muta_fifths_class(chord->value.root);

    return muta_chord_has_seventh(chord->value.kind) &&
           muta_chord_tone(chord->value.kind, above) == 3;
}

/* The leading tone and a seventh are there once at most. */
static int64_t price_doubled(const struct figures *figures, muta_pitch pitch)
{
    const int32_t leading = figures->slot.leading;

    if (leading != MUTA_NO_LEADING && muta_pitch_fifths(pitch) == leading)
        return muta_rule_price(MUTA_RULE_LEADING_DOUBLED, SHARE);
    return is_seventh(figures->now, pitch) ? muta_rule_price(MUTA_RULE_SEVENTH_DOUBLED, SHARE) : 0;
}

/* What a chord lacks. */
static int64_t price_lacking(const struct figures *figures, unsigned covers)
{
    const muta_chord_kind kind = figures->now->value.kind;
    int64_t price = 0;

    for (uint8_t i = 0; i < muta_chord_row_of(kind)->count; i++)
        price += covers & (1U << i) ? 0 : muta_rule_price(muta_rule_lacking(kind, i), SHARE);
    return price;
}

/* Whether one comes when the other is over. */
static bool are_apart(const struct moved *a, const struct moved *b)
{
    return muta_fraction_compare(a->until, b->since) <= 0 ||
           muta_fraction_compare(b->until, a->since) <= 0;
}

/* What it costs that a pitch becomes one with that below it. */
static int64_t price_meeting(const struct moved *moved)
{
    if (moved->semitones == moved[-1].semitones)
        return 0;
    return are_apart(moved, moved - 1)     ? FLATTENED
           : moved->line != moved[-1].line ? UNISON
                                           : SAME_TONE;
}

/* Whether an instrument has no such tone, and was not as far out before. */
static bool is_out(const struct refiguring *work, const struct moved *moved, int semitones)
{
    const struct range *const range = &work->ranges[moved->part];

    return (semitones < range->low && semitones < moved->semitones) ||
           (semitones > range->high && semitones > moved->semitones);
}

/* Whether a pitch stays the octave of one of its own line, as hands play a bass: that is one tone.
 */
static bool doubles_own(const struct figures *figures, const struct stand *below, size_t nth,
                        int semitones)
{
    enum {
        AN_OCTAVE = 12
    };
    const struct moved *const moved = &figures->pitches[nth];

    for (size_t i = 0; i < nth; i++)
        if (figures->pitches[i].line == moved->line &&
            moved->semitones - figures->pitches[i].semitones == AN_OCTAVE &&
            semitones - muta_pitch_semitones(figures->pitches[i].options[below->taken[i]]) ==
                AN_OCTAVE)
            return true;
    return false;
}

/* Whether a pitch, the highest as the chord begins, has the tone of the lowest, which another line
 * has. */
static bool tops_as_bass(const struct figures *figures, const struct stand *below, size_t nth,
                         int semitones)
{
    const struct moved *const low = &figures->pitches[0];
    const struct moved *const top = &figures->pitches[nth];

    for (size_t i = nth + 1; i < figures->count; i++)
        if (begins(figures, &figures->pitches[i]))
            return false;
    return begins(figures, top) && top->line != low->line &&
           (semitones - muta_pitch_semitones(low->options[below->taken[0]])) % 12 == 0;
}

/* What it costs that a pitch takes an option above those of a stand. */
static int64_t price_option(const struct refiguring *work, const struct figures *figures,
                            const struct stand *below, size_t nth, uint8_t option)
{
    const struct moved *const moved = &figures->pitches[nth];
    const muta_pitch to = moved->options[option];
    const int semitones = muta_pitch_semitones(to);
    int64_t cost = (int64_t)abs(semitones - moved->semitones) * A_SEMITONE +
                   price_held(work, figures, moved, to);

    if (below->covers & (1U << moved->tones[option]) &&
        !doubles_own(figures, below, nth, semitones))
        cost += price_doubled(figures, to);
    if (figures->tune && moved->semitones <= figures->tune && semitones > figures->tune)
        cost += ABOVE_TUNE;
    if (figures->tune && moved->semitones == figures->tune && semitones != figures->tune)
        cost += FROM_TUNE;
    if (is_out(work, moved, semitones))
        cost += muta_rule_price(MUTA_RULE_RANGE, SHARE);
    if (nth == 0)
        return cost;
    const bool is_top =
        !figures->sung || muta_pitch_semitones(figures->sung->pitch) < moved->semitones;
    if (is_top && tops_as_bass(figures, below, nth, semitones))
        cost += TOP_AS_BASS;
    const int gap = semitones - muta_pitch_semitones(moved[-1].options[below->taken[nth - 1]]);
    return cost + price_gap(figures, nth, gap) + price_grip(figures, below, nth, semitones) +
           (gap < 0    ? CROSSED
            : gap == 0 ? price_meeting(moved)
                       : 0);
}

/* Keeps the best of them, the best first. */
static void keep(struct stand *stands, size_t *count, const struct stand *stand)
{
    size_t at = *count;

    if (at == STANDS && stands[at - 1].cost <= stand->cost)
        return;
    at = at == STANDS ? at - 1 : at;
    for (; at > 0 && stands[at - 1].cost > stand->cost; at--)
        stands[at] = stands[at - 1];
    stands[at] = *stand;
    *count += *count < STANDS;
}

/* The best ways to stand, pitch by pitch from the lowest, of which the best few go on each time. */
static muta_status find_stands(struct refiguring *work, struct figures *figures)
{
    struct stand from[STANDS] = {{.covers = figures->covered}};
    struct stand to[STANDS];
    size_t count = 1;

    for (size_t nth = 0; nth < figures->count; nth++) {
        size_t made = 0;
        for (size_t i = 0; i < count; i++)
            for (uint8_t option = 0; option < figures->pitches[nth].option_count; option++) {
                struct stand stand = from[i];
                stand.cost += price_option(work, figures, &from[i], nth, option);
                stand.taken[nth] = option;
                stand.covers |= (uint8_t)(1U << figures->pitches[nth].tones[option]);
                if (nth + 1 == figures->count)
                    stand.cost += price_lacking(figures, stand.covers);
                keep(to, &made, &stand);
            }
        memcpy(from, to, made * sizeof *to);
        count = made;
    }
    figures->stands = muta_arena_take_array(&work->arena, count, sizeof *figures->stands);
    if (!figures->stands)
        return MUTA_E_MEMORY;
    memcpy(figures->stands, from, count * sizeof *from);
    figures->stand_count = count;
    return MUTA_OK;
}

/* ---- how they are led ---- */

/* The figures of one chord and of the next, each as it may stand, and how one pitch goes. */
struct step {
    const struct figures *from;
    const struct figures *to;
    const struct stand *was;
    const struct stand *is;
};

/* Whether a pitch goes on a voice that was there. */
static bool is_led(const struct step *step, size_t nth)
{
    return step->to->pitches[nth].before != NO_PITCH;
}

static muta_pitch was_at(const struct step *step, size_t nth)
{
    const size_t before = step->to->pitches[nth].before;

    return step->from->pitches[before].options[step->was->taken[before]];
}

static muta_pitch is_at(const struct step *step, size_t nth)
{
    return step->to->pitches[nth].options[step->is->taken[nth]];
}

/* A seventh that has to fall, or a leading tone that has to rise. */
static int64_t price_duty(const struct step *step, muta_pitch from, int moves)
{
    const muta_passage_chord *const was = step->from->now;

    if (is_seventh(was, from) && !muta_passage_chord_has(step->to->now, from))
        return muta_seventh_is_left(moves) ? muta_rule_price(MUTA_RULE_SEVENTH, SHARE) : 0;
    return muta_pitch_fifths(from) == step->from->slot.leading &&
                   muta_leading_is_left(step->from->slot.leading, step->to->now->value.root, moves,
                                        true)
               ? muta_rule_price(MUTA_RULE_LEADING, SHARE)
               : 0;
}

/* Whether two pitches went in octaves already. */
static bool went_in_octaves(const struct step *step, size_t low, size_t high)
{
    const struct moved *const is = step->to->pitches;
    const struct moved *const was = step->from->pitches;

    return (is[high].semitones - is[low].semitones) % 12 == 0 &&
           (was[is[high].before].semitones - was[is[low].before].semitones) % 12 == 0;
}

static int64_t price_pair(const struct step *step, size_t low, size_t high)
{
    const int low_was = muta_pitch_semitones(was_at(step, low));
    const int low_is = muta_pitch_semitones(is_at(step, low));
    const int high_was = muta_pitch_semitones(was_at(step, high));
    const int high_is = muta_pitch_semitones(is_at(step, high));
    int64_t cost = 0;

    if (!went_in_octaves(step, low, high))
        cost += muta_parallel_price(high_was, high_is, low_was, low_is, SHARE);
    if (low + 1 == high && muta_semitones_overlap(high_was, high_is, low_was, low_is))
        cost += muta_rule_price(MUTA_RULE_OVERLAP, SHARE);
    return cost;
}

/* The tune as one more voice. */
static int64_t price_with_tune(const struct step *step, size_t nth)
{
    const int was = muta_pitch_semitones(was_at(step, nth));
    const int is = muta_pitch_semitones(is_at(step, nth));
    const int tune = step->to->tune;
    const int tune_was = step->from->tune_end;

    if (!tune || !tune_was)
        return 0;
    int64_t cost = muta_parallel_price(tune_was, tune, was, is, SHARE);
    if (nth + 1 == step->to->count && was < tune_was &&
        muta_semitones_overlap(tune_was, tune, was, is))
        cost += muta_rule_price(MUTA_RULE_OVERLAP, SHARE);
    if (nth == 0 && muta_semitones_hidden(tune_was, tune, was, is))
        cost += muta_rule_price(MUTA_RULE_HIDDEN, SHARE);
    return cost;
}

/* A bass does not leap by sevenths, nor by more than an octave. */
static int64_t price_leap(int moves)
{
    return abs(moves) > 12 ? BASS_FAR : abs(moves) > 9 && abs(moves) < 12 ? BASS_LEAP : 0;
}

static int64_t price_voice(const struct step *step, size_t nth)
{
    const muta_pitch from = was_at(step, nth);
    const muta_pitch to = is_at(step, nth);
    const int moves = muta_pitch_semitones(to) - muta_pitch_semitones(from);
    int64_t cost = (int64_t)abs(moves) * LED + price_duty(step, from, moves);

    if (muta_pitch_is_augmented(from, to))
        cost += muta_rule_price(MUTA_RULE_AUGMENTED, SHARE);
    if (step->to->pitches[nth].is_bass &&
        step->from->pitches[step->to->pitches[nth].before].is_bass)
        cost += price_leap(moves);
    cost += price_with_tune(step, nth);
    if (nth > 0 && is_led(step, 0))
        cost += price_pair(step, 0, nth);
    if (nth > 1 && is_led(step, nth - 1))
        cost += price_pair(step, nth - 1, nth);
    return cost;
}

/* ---- part-writing ---- */

/* Whether what begins with a chord is in voices with a line each, which rules of part-writing can
 * follow. */
static bool is_choir(const struct figures *figures)
{
    size_t count = figures->sung ? 1 : 0;

    for (size_t i = 0; i < figures->count; i++) {
        if (!begins(figures, &figures->pitches[i]))
            continue;
        count += figures->pitches[i].voices;
        for (size_t j = 0; j < i; j++)
            if (begins(figures, &figures->pitches[j]) &&
                figures->pitches[j].line == figures->pitches[i].line)
                return false;
    }
    return count >= 3 && count <= MUTA_VOICES;
}

/* What begins with a chord, and the tune. */
static void add_beginning(const struct figures *figures, const struct stand *stand,
                          muta_voiced *voiced)
{
    for (size_t i = 0; i < figures->count; i++)
        for (uint8_t j = 0; begins(figures, &figures->pitches[i]) && j < figures->pitches[i].voices;
             j++)
            muta_voiced_add(voiced, figures->pitches[i].options[stand->taken[i]]);
    if (figures->sung)
        muta_voiced_add(voiced, figures->sung->pitch);
}

/* The rules of part-writing from chord to chord, for what sounds as they begin; 0 where the voices
 * are not as many. */
static int64_t price_rules(const struct step *step)
{
    const struct figures *const from = step->from;
    muta_voiced was = {.slot = &from->slot};
    muta_voiced is = {.slot = &step->to->slot};

    if (!from->is_choir || !step->to->is_choir)
        return 0;
    add_beginning(from, step->was, &was);
    add_beginning(step->to, step->is, &is);
    for (size_t i = 0; i < from->count; i++)
        if (muta_fraction_compare(from->pitches[i].until, step->to->now->from) > 0)
            muta_voiced_add(&is, from->pitches[i].options[step->was->taken[i]]);
    if (was.count != is.count)
        return 0;
    muta_voiced_read(&was);
    muta_voiced_read(&is);
    return muta_rules_price_standing(&is, false) + muta_voicing_price_way(&was, &is, false);
}

static uint32_t count_stands(void *context, size_t step)
{
    const struct refiguring *const work = context;

    return (uint32_t)work->figures.at[step].stand_count;
}

static int64_t price_stand(void *context, size_t nth, uint32_t from, uint32_t to)
{
    const struct refiguring *const work = context;
    const struct figures *const figures = &work->figures.at[nth];
    int64_t cost = figures->stands[to].cost;

    if (from == MUTA_NO_CANDIDATE)
        return cost;
    const struct step step = {figures - 1, figures, &figures[-1].stands[from],
                              &figures->stands[to]};
    for (size_t i = 0; i < figures->count; i++)
        if (is_led(&step, i))
            cost += price_voice(&step, i);
    return cost + price_rules(&step);
}

/* The best way through all chords. */
static muta_status lead(struct refiguring *work)
{
    const muta_search search = {work, work->figures.count, count_stands, price_stand};
    muta_answer answer;
    size_t found;

    if (work->figures.count == 0)
        return MUTA_OK;
    MUTA_TRY(muta_search_best(&work->arena, &search, 1, &answer, &found));
    if (found == 0)
        return MUTA_E_FAULT;
    for (size_t i = 0; i < work->figures.count; i++) {
        const struct figures *const figures = &work->figures.at[i];
        for (size_t j = 0; j < figures->count; j++)
            figures->pitches[j].to =
                figures->pitches[j].options[figures->stands[answer.taken[i]].taken[j]];
    }
    return MUTA_OK;
}

/* ---- the tones ---- */

static void set_chord_tones(struct refiguring *work, const struct figures *figures)
{
    for (size_t i = figures->first; i < figures->end; i++) {
        muta_tone *const tone = &muta_passage_tones(work->out)[work->order[i].tone];
        const struct moved *const moved =
            is_figure(work, work->order[i].tone) && belongs(figures, &work->order[i], tone)
                ? find_moved(figures, muta_pitch_semitones(tone->pitch), tone->line)
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
    const muta_pitch pitch = work->was[work->order[nth].tone];

    for (size_t i = nth; i > first; i--) {
        const uint32_t other = work->order[i - 1].tone;
        if (muta_fraction_compare(work->order[i - 1].onset, work->order[nth].onset) != 0)
            break;
        if (is_figure(work, other) && muta_pitch_is_equal(work->was[other], pitch))
            return &work->work.tones[other].pitch;
    }
    return NULL;
}

/* The moment of a figure's new chord. */
static muta_sense sense_of(const struct refiguring *work, const muta_tone *tone,
                           const muta_passage_chord *now)
{
    muta_sense sense = muta_sense_at(work->out, tone, now->from);

    sense.chord = now;
    return sense;
}

/* Foreign tones go along the new chord's scale with what they lean on. */
static void set_foreign_tones(struct refiguring *work, const struct figures *figures)
{
    const muta_passage_chord *const now = figures->now;

    for (size_t i = figures->first; i < figures->end; i++) {
        muta_tone *const tone = &muta_passage_tones(work->out)[work->order[i].tone];
        if (!is_figure(work, work->order[i].tone) || work->done[work->order[i].tone])
            continue;
        const muta_pitch *const same = moved_alike(work, figures->first, i);
        const size_t anchor = anchor_of(work, work->order[i].tone);
        if (same)
            muta_passage_set_pitch(work->out, tone, *same);
        if (same || anchor == SIZE_MAX)
            continue;
        const int32_t steps = tone->pitch.place - work->was[anchor].place;
        const muta_sense sense = sense_of(work, tone, now);
        muta_passage_set_pitch(work->out, tone,
                               muta_sense_step(&sense, work->work.tones[anchor].pitch, steps));
    }
}

/* The tone that a line of one tone at a time has beside another; NULL where there is no such. */
static const muta_tone *tone_beside(const struct refiguring *work, uint32_t tone, int direction)
{
    const muta_tone *const tones = work->work.tones;
    const uint32_t other = direction < 0 ? tone - 1 : tone + 1; /* before the first: none */

    return other < work->work.tone_count && tones[other].line == tones[tone].line &&
                   tones[other].event != tones[tone].event
               ? &tones[other]
               : NULL;
}

/* Whether a tone has met one beside it that it was apart from. */
static bool has_met(const struct refiguring *work, uint32_t tone, int direction)
{
    const muta_tone *const other = tone_beside(work, tone, direction);

    return other && muta_pitch_is_equal(other->pitch, work->work.tones[tone].pitch) &&
           !muta_pitch_is_equal(work->was[other - work->work.tones], work->was[tone]);
}

/* A foreign tone that met what it leant on steps on the side where it was, so that the figure does
 * not stand still. */
static void part_neighbours(struct refiguring *work, const struct figures *figures)
{
    for (size_t i = figures->first; i < figures->end; i++) {
        const uint32_t nth = work->order[i].tone;
        if (!is_figure(work, nth) || work->done[nth])
            continue;
        for (int direction = -1; direction <= 1; direction += 2) {
            const muta_tone *const other = tone_beside(work, nth, direction);
            if (!has_met(work, nth, direction))
                continue;
            muta_tone *const tone = &muta_passage_tones(work->out)[nth];
            const muta_sense sense = sense_of(work, tone, figures->now);
            const bool was_above = work->was[nth].place > work->was[other - work->work.tones].place;
            muta_passage_set_pitch(work->out, tone,
                                   muta_sense_step(&sense, tone->pitch, was_above ? 1 : -1));
        }
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
static void part_tones(struct refiguring *work, const struct figures *figures)
{
    enum {
        AN_OCTAVE = 7 /* in places */
    };

    for (size_t i = figures->first; i < figures->end; i++) {
        const uint32_t nth = work->order[i].tone;
        muta_tone *const tone = &muta_passage_tones(work->out)[nth];
        const muta_sense sense = sense_of(work, tone, figures->now);
        if (!is_figure(work, nth) || !is_taken(work, nth, tone->pitch))
            continue;
        for (int32_t steps = 1; steps <= AN_OCTAVE; steps++) {
            const muta_pitch to = muta_sense_step(&sense, tone->pitch, steps);
            if (!muta_passage_chord_has(figures->now, to) || is_taken(work, nth, to))
                continue;
            muta_passage_set_pitch(work->out, tone, to);
            break;
        }
    }
}

/* ---- all of it ---- */

/* The pitch that lies nearest; of the same line, if there is such. */
static uint8_t nearest(const struct figures *figures, const struct moved *to)
{
    uint8_t best = NO_PITCH;

    for (size_t i = 0; i < figures->count; i++) {
        const struct moved *const one = &figures->pitches[i];
        const struct moved *const other = best == NO_PITCH ? one : &figures->pitches[best];
        const bool is_own = one->line == to->line;
        if (best == NO_PITCH || (is_own && other->line != to->line) ||
            (is_own == (other->line == to->line) &&
             abs(one->semitones - to->semitones) < abs(other->semitones - to->semitones)))
            best = (uint8_t)i;
    }
    return best;
}

/* Where each voice was under the chord before: two pitches that are the nearest to each other are
 * one voice. */
static void find_voices(const struct figures *before, struct figures *figures)
{
    for (size_t i = 0; i < figures->count; i++) {
        const uint8_t was = nearest(before, &figures->pitches[i]);
        if (was != NO_PITCH && nearest(figures, &before->pitches[was]) == i)
            figures->pitches[i].before = was;
    }
}

/* What stays stands as it did. */
static void stay(struct figures *figures)
{
    for (size_t i = 0; i < figures->count; i++) {
        struct moved *const moved = &figures->pitches[i];
        const int tone =
            muta_chord_tone(figures->now->value.kind,
                            moved->semitones - muta_fifths_class(figures->now->value.root));
        moved->options[0] = moved->from;
        moved->tones[0] = tone < 0 ? 0 : (uint8_t)tone;
        moved->option_count = 1;
    }
}

/* The figures of one chord: those of the tones [first, end) in order of time. */
static muta_status add_figures(struct refiguring *work, const muta_passage_chord *old,
                               const muta_passage_chord *now, size_t first, size_t end)
{
    struct figures figures = {.old = old, .now = now, .first = first, .end = end};

    MUTA_TRY(find_pitches(work, &figures));
    if (figures.count == 0)
        return MUTA_OK;
    figures.stays = muta_chord_is_equal(old->value, now->value);
    figures.is_choir = is_choir(&figures);
    figures.slot = (muta_harmony_slot){
        .value = now->value,
        .leading = muta_chord_leading(now->value.kind, now->value.root, now->tonic)};
    for (size_t i = 0; i < figures.count && !figures.stays; i++) {
        find_options(&figures, i);
        figures.stays = figures.pitches[i].option_count == 0;
    }
    if (figures.stays)
        stay(&figures);
    if (work->figures.count > 0)
        find_voices(&work->figures.at[work->figures.count - 1], &figures);
    MUTA_TRY(find_stands(work, &figures));
    struct figures *const added = MUTA_PUSH(&work->arena, &work->figures);
    if (!added)
        return MUTA_E_MEMORY;
    *added = figures;
    return MUTA_OK;
}

/* Each chord with the tones that begin under it. */
static muta_status find_figures(struct refiguring *work)
{
    const size_t count = work->work.tone_count;
    size_t first = 0;

    for (size_t i = 0; i < work->out->chord_count; i++) {
        const muta_passage_chord *const now = &work->out->chords[i];
        const muta_passage_chord *const old = muta_passage_chord_at(work->in, now->from);
        size_t end;
        while (first < count && muta_fraction_compare(work->order[first].onset, now->from) < 0)
            first++;
        for (end = first; end < count && muta_fraction_compare(work->order[end].onset, now->to) < 0;
             end++)
            ;
        if (old)
            MUTA_TRY(add_figures(work, old, now, first, end));
        first = end;
    }
    return MUTA_OK;
}

static muta_status refigure(struct refiguring *work)
{
    MUTA_TRY(find_figures(work));
    MUTA_TRY(lead(work));
    for (size_t i = 0; i < work->figures.count; i++) {
        const struct figures *const figures = &work->figures.at[i];
        if (figures->stays)
            continue;
        set_chord_tones(work, figures);
        set_foreign_tones(work, figures);
        part_neighbours(work, figures);
        part_tones(work, figures);
    }
    return MUTA_OK;
}

static int in_order(const void *a, const void *b)
{
    const struct timed *const one = a;
    const struct timed *const two = b;
    const int by_time = muta_fraction_compare(one->onset, two->onset);

    return by_time != 0 ? by_time : one->tone < two->tone ? -1 : one->tone > two->tone;
}

static bool find_ranges(struct refiguring *work)
{
    const muta_score *const score = muta_passage_score(work->in);

    work->ranges = muta_arena_take_array(&work->arena, score->part_count + 1, sizeof *work->ranges);
    for (uint32_t i = 0; work->ranges && i < score->part_count; i++) {
        muta_instrument instrument;
        work->ranges[i] = (struct range){INT_MIN, INT_MAX};
        if (muta_part_instrument(&score->parts[i], &instrument))
            work->ranges[i] = (struct range){muta_pitch_semitones(instrument.low),
                                             muta_pitch_semitones(instrument.high)};
    }
    return work->ranges != NULL;
}

muta_status muta_refigure(const muta_passage *in, muta_passage *out)
{
    struct refiguring work = {.in = in, .out = out, .work = muta_passage_work(out)};
    const size_t count = work.work.tone_count;
    bool is_choir;

    MUTA_TRY(muta_choir_set(in, out, &is_choir));
    if (is_choir)
        return MUTA_OK;
    work.done = calloc(count + 1, sizeof *work.done);
    work.doubles = calloc(count + 1, sizeof *work.doubles);
    bool *const with = calloc(count + 1, sizeof *with);
    work.was = malloc((count + 1) * sizeof *work.was);
    work.order = malloc((count + 1) * sizeof *work.order);
    const bool good =
        work.done && work.doubles && with && work.was && work.order && find_ranges(&work);
    muta_status status = good ? MUTA_OK : MUTA_E_MEMORY;
    for (uint32_t i = 0; good && i < count; i++) {
        work.order[i] = (struct timed){work.work.events[work.work.tones[i].event].onset, i};
        work.was[i] = work.work.tones[i].pitch;
    }
    if (good) {
        muta_sort(work.order, count, sizeof *work.order, in_order);
        find_doubles(&work, with);
        double_tune(&work);
        status = refigure(&work);
    }
    free(work.was);
    free(work.done);
    free(work.doubles);
    free(with);
    free(work.order);
    muta_arena_clear(&work.arena);
    return status;
}
