/* reharmonise.c: other chords under the same tune, found by search; the accompaniment follows them
 * in its own figures. */
#include "base/search.h"
#include "base/vec.h"
#include "passes/part_writing.h"
#include "passes/pass.h"
#include "passes/refigure.h"
#include "study/study.h"
#include "theory/palette.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

enum {
    REWRITE,
    LEAVE
};

static const char *const figurations[] = {"rewrite", "leave", NULL};

struct args {
    const char *palette;
    muta_fraction stray;
    int figuration;
};

static const muta_param params[] = {
    MUTA_ARG_NAME(struct args, palette, "common-practice", muta_table_palettes,
                  "which chords there are"),
    MUTA_ARG_SHARE(struct args, stray, "0.5",
                   "how far from the chords that were there: 0 stays with them, 1 avoids them"),
    MUTA_ARG_CHOICE(struct args, figuration, "rewrite", figurations,
                    "the accompaniment onto the new chords in its own figures, or only symbols"),
};

/* Costs in thousandths; set by hand. */
enum {
    UNNAMED = 40000,  /* a tone of the tune that no rule can name */
    CLASH = 12000,    /* the tune has another form of a tone of the chord: F sharp over F */
    HELD_BASS = 6000, /* the bass changes where it was held on */
    LEANING = 1500,   /* a quarter of a foreign tone on a beat, resolved by step */
    FLEETING = 500,   /* the same off the beat */
    FREE_STEP = 2500, /* a quarter of one left or reached by step alone */
    NO_GOAL = 4000,   /* a chord that leads does not reach its goal */
    BACKWARD = 2000,  /* from the dominant to the subdominant */
    PLAGAL = 700,
    SAME_FUNCTION = 300,
    STUCK = 900,    /* the chord does not change where it did */
    RESTLESS = 300, /* it changes where it did not */
    TURNED = 2000,  /* it changes where only its bass did */
    HELD = 1000,    /* a tone is held into a chord that shares none with the one before */
    INVERTED = 350,
    SECOND_INVERSION = 2200,
    THIRD_INVERSION = 700,
    UNRESOLVED_BASS = 3000,
    SEVENTH_LEFT = 2000, /* a seventh that has no tone to fall to */
    CADENTIAL = 300,     /* a six-four before its dominant */
    NO_CADENCE = 9000,   /* the end of a phrase is another than it was */
    DECEPTIVE = 2500,
    WEAK_APPROACH = 1500, /* the tonic at the end of a phrase without its dominant before */
    PARALLEL = 6000,      /* fifths or octaves of tune and bass */
    LEADING_LEFT = 2000,
    HIDDEN = 1500, /* the same, when only the outer voices' goal is one */
    TRITONE_LEAP = 700,
    AWAY = 750,   /* each step away from the old chord, at stray 0 */
    NEAR = 1100,  /* each step that it could be farther, as one strays farther and farther, */
    SLOWLY = 575, /* half of it at this many thousandths */
    FARTHEST = 8,
    DRAWN = 200,     /* each step away from the old chord, under a tune that is not what it was, */
    ANEW_FAR = 6000, /* one with signs that nobody expects in its key */
    ANEW_SEVENTH = 600, /* a seventh chord that is none of a dominant's, under such a tune */
    ANEW_LEANS = 3, /* under which foreign tones on beats cost so many times as much: nobody chose
                       them */
    NEW_LEANS = 4,  /* and so many times as much over any chord that is put in */
    BADLY_LED =
        5000,      /* each rule of part-writing that the accompaniment breaks and did not before */
    PARTINGS = 16, /* more beats than that a bar are no harmony's */
    ROUNDS = 4,    /* of looking for chords with which it does not */
    NO_CLASS = -1
};

/* A tone of the tune, in whatever line it is. */
struct note {
    muta_fraction onset;
    muta_fraction end;
    muta_pitch pitch;
    int semitones;
    bool is_strong;
    bool closes; /* a phrase */
};

/* A while in which one chord stands. */
struct slot {
    muta_fraction from;
    muta_fraction to;
    const muta_passage_chord *old;
    bool is_split;      /* it goes on the chord of the slot before, */
    bool is_turned;     /* but for the bass */
    bool is_close;      /* a phrase ends in it */
    bool is_fixed;      /* its chord stays */
    bool is_cadence;    /* the same, as long as the tune has a name over it */
    bool is_held;       /* the bass is held into it */
    uint8_t held;       /* how many tones of the accompaniment are */
    int16_t tune;       /* what the tune sounds as it begins, in semitones; 0 for nothing */
    uint8_t tune_class; /* its pitch class */
    int16_t last;       /* what the tune sounds as it ends; 0 for nothing */
    size_t note;        /* of the tune: the first that sounds in it, and the end */
    size_t note_end;
    size_t option; /* its first candidate */
    size_t count;
};

/* A chord that may stand in a slot. */
struct option {
    muta_chord value;
    muta_palette_chord of; /* the row that it comes from */
    /* What follows from the value, as pitch classes: */
    uint8_t root_class;
    uint8_t bass_class;
    int16_t seventh; /* that has to fall; NO_CLASS for none */
    int16_t leading; /* that has to rise */
    uint16_t tones;  /* a bit for each */
    bool is_old;
    bool is_unfit;       /* with a tone of the tune that no rule names */
    int16_t anticipates; /* the tone that the next chord is to have, in semitones; 0 for none */
    int64_t tune;        /* what foreign tones of the tune cost over it */
    int64_t cost;        /* by itself, all in all */
};

/* The chords of a palette for one mode. */
struct palette {
    MUTA_VEC(muta_palette_chord) chords;
    bool is_read;
};

struct harmonising {
    const muta_call *call;
    const struct args *args;
    muta_texture work;
    muta_arena arena;
    MUTA_VEC(struct note) tune; /* in order of time */
    int64_t stray;              /* in thousandths */
    bool is_anew;               /* the tune is another than that to which the old chords were set */
    MUTA_VEC(struct slot) slots;
    MUTA_VEC(struct option) options;
    struct palette palettes[2][2]; /* the one that was asked for, and beyond it; major, minor */
    /* By slot, where an accompaniment follows: */
    muta_pitch *pitches; /* by tone of the answer, as they were */
    muta_fraction *onsets;
    muta_harmony_slot *old_slots;
    muta_harmony_slot *new_slots;
    muta_voiced *were; /* what sounded as it began, and what sounds now */
    muta_voiced *are;
};

/* ---- slots ---- */

static muta_status add_slot(struct harmonising *work, muta_fraction from, muta_fraction to,
                            const muta_passage_chord *old, bool is_split)
{
    struct slot *const slot = MUTA_PUSH(&work->arena, &work->slots);

    if (!slot)
        return MUTA_E_MEMORY;
    *slot = (struct slot){.from = from, .to = to, .old = old, .is_split = is_split};
    if (!is_split && work->slots.count > 1) {
        const muta_passage_chord *const before = slot[-1].old;
        slot->is_turned =
            muta_fifths_class(before->value.root) == muta_fifths_class(old->value.root) &&
            before->value.kind == old->value.kind;
    }
    return MUTA_OK;
}

/* The first chord stays, and that of a pick-up with it; so does the last, which closes. */
static void fix_ends(struct harmonising *work)
{
    struct slot *const last = &work->slots.at[work->slots.count - 1];
    muta_beat beat;

    muta_passage_beat_at(work->call->in, MUTA_ZERO, &beat);
    for (size_t i = 0; i < work->slots.count; i++) {
        work->slots.at[i].is_fixed = true;
        if (beat.bar.top >= 0 || muta_fraction_compare(work->slots.at[i].from, beat.end) >= 0)
            break;
    }
    last->is_fixed = true;
    last->is_close = true;
}

/* The old chords, parted at bar lines. */
static muta_status find_slots(struct harmonising *work)
{
    const muta_passage *const in = work->call->in;
    muta_passage_chord *chords;
    size_t count;

    MUTA_TRY(muta_passage_list_chords(in, &work->arena, &chords, &count));
    for (size_t i = 0; i < count; i++) {
        const muta_passage_chord *const chord = &chords[i];
        const muta_fraction end = chord->to;
        muta_fraction at = chord->from;
        bool is_split = false;
        while (muta_fraction_compare(at, end) < 0) {
            muta_beat beat;
            muta_passage_beat_at(in, at, &beat);
            muta_fraction to = muta_fraction_min(end, beat.end);
            if (muta_fraction_compare(to, at) <= 0)
                to = end;
            MUTA_TRY(add_slot(work, at, to, chord, is_split));
            is_split = true;
            at = to;
        }
    }
    if (work->slots.count > 0)
        fix_ends(work);
    return MUTA_OK;
}

static muta_fraction end_of(const muta_event *event)
{
    return muta_fraction_add(event->onset, event->duration);
}

static int by_onset(const void *a, const void *b)
{
    const struct note *const one = a;
    const struct note *const two = b;
    const int onsets = muta_fraction_compare(one->onset, two->onset);
    const int ends = muta_fraction_compare(one->end, two->end);

    if (onsets != 0 || ends != 0)
        return onsets != 0 ? onsets : ends;
    return one->semitones < two->semitones ? -1 : one->semitones > two->semitones;
}

static muta_status find_tune(struct harmonising *work)
{
    for (size_t i = 0; i < work->work.tone_count; i++) {
        const muta_tone *const tone = &work->work.tones[i];
        const muta_event *const event = &work->work.events[tone->event];
        if (!tone->is_tune || tone->is_fixed || event->is_grace || event->is_cue)
            continue;
        struct note *const note = MUTA_PUSH(&work->arena, &work->tune);
        if (!note)
            return MUTA_E_MEMORY;
        *note = (struct note){.onset = event->onset,
                              .end = muta_fraction_add(event->onset, tone->duration),
                              .pitch = tone->pitch,
                              .semitones = muta_pitch_semitones(tone->pitch),
                              .is_strong = event->level <= MUTA_LEVEL_BEAT,
                              .closes = event->closes && work->work.lines[tone->line].is_tune};
    }
    muta_sort(work->tune.at, work->tune.count, sizeof *work->tune.at, by_onset);
    return MUTA_OK;
}

/* What the tune does in a slot: its first tone, and whether a phrase ends. */
static void hear_slot(const struct harmonising *work, struct slot *slot)
{
    for (size_t i = slot->note; i < slot->note_end; i++) {
        const struct note *const note = &work->tune.at[i];
        if (slot->tune == 0)
            slot->tune = (int16_t)note->semitones;
        slot->tune_class = (uint8_t)muta_semitones_class(slot->tune);
        slot->last = (int16_t)note->semitones;
        slot->is_close =
            slot->is_close || (note->closes && muta_fraction_compare(note->onset, slot->from) >= 0);
    }
}

static void hear_tune(struct harmonising *work)
{
    size_t at = 0;

    for (size_t i = 0; i < work->slots.count; i++) {
        struct slot *const slot = &work->slots.at[i];
        while (at < work->tune.count &&
               muta_fraction_compare(work->tune.at[at].end, slot->from) <= 0)
            at++;
        slot->note = slot->note_end = at;
        while (slot->note_end < work->tune.count &&
               muta_fraction_compare(work->tune.at[slot->note_end].onset, slot->to) < 0)
            slot->note_end++;
        hear_slot(work, slot);
    }
}

static int32_t degree_of(const struct slot *slot)
{
    return slot->old->value.root - slot->old->tonic;
}

/* The slot in which the chord before that of a slot ends; itself when there is none. */
static struct slot *slot_before(const struct harmonising *work, struct slot *slot)
{
    struct slot *before = slot;

    while (before > work->slots.at && before->old == slot->old)
        before--;
    return before;
}

/* Whether a chord is the dominant of another, in whatever key that is a tonic. */
static bool is_dominant_of(const muta_chord *chord, const muta_chord *goal)
{
    return chord->root == goal->root + 1 &&
           (chord->kind == MUTA_CHORD_MAJOR || chord->kind == MUTA_CHORD_DOMINANT);
}

/* How a phrase closes on a tonic, on the dominant, or on what a dominant of its own leads to stays:
 * its last chord, the dominant before it, the six-four before that. */
static void fix_cadences(struct harmonising *work)
{
    for (size_t i = 0; i < work->slots.count; i++) {
        struct slot *const slot = &work->slots.at[i];
        struct slot *const before = slot_before(work, slot);
        const bool is_led =
            before->old != slot->old && (is_dominant_of(&before->old->value, &slot->old->value) ||
                                         (degree_of(slot) == 0 && degree_of(before) == 1));
        if (!slot->is_close || (degree_of(slot) != 0 && degree_of(slot) != 1 && !is_led))
            continue;
        slot->is_cadence = true;
        if (!is_led)
            continue;
        before->is_cadence = true;
        if (before > work->slots.at && before[-1].old->value.root == slot->old->value.root &&
            before[-1].old->value.bass == 2)
            before[-1].is_cadence = true;
    }
}

/* Into which slots the accompaniment is held, and the bass. */
static void hear_held(struct harmonising *work)
{
    for (size_t i = 0; i < work->work.tone_count; i++) {
        const muta_tone *const tone = &work->work.tones[i];
        const muta_event *const event = &work->work.events[tone->event];
        size_t low = 0;
        size_t high = work->slots.count;
        if (tone->is_tune || tone->is_fixed)
            continue;
        while (low < high) { /* the first slot that begins behind it */
            const size_t middle = low + (high - low) / 2;
            if (muta_fraction_compare(work->slots.at[middle].from, event->onset) <= 0)
                low = middle + 1;
            else
                high = middle;
        }
        for (; low < work->slots.count &&
               muta_fraction_compare(work->slots.at[low].from, end_of(event)) < 0;
             low++) {
            struct slot *const slot = &work->slots.at[low];
            slot->is_held = slot->is_held || tone->is_bass;
            slot->held = (uint8_t)(slot->held + (slot->held < UINT8_MAX));
        }
    }
}

/* ---- the tune over a chord ---- */

static bool has(const struct option *option, int semitones)
{
    return option->tones & (1U << muta_semitones_class(semitones));
}

/* The tone of the tune before (-1) or behind (1) one, over a rest of a quarter at most, as study
 * hears it; 0: none. */
static int beside(const struct harmonising *work, size_t note, int direction)
{
    const size_t other = direction < 0 ? note - 1 : note + 1; /* before the first: none */

    if (other >= work->tune.count)
        return 0;
    const struct note *const first = &work->tune.at[direction < 0 ? other : note];
    const struct note *const second = &work->tune.at[direction < 0 ? note : other];
    const muta_fraction rest = muta_fraction_subtract(second->onset, first->end);
    return muta_fraction_compare(rest, muta_fraction_of(1, 1)) <= 0 ? work->tune.at[other].semitones
                                                                    : 0;
}

static bool is_step(int from, int to)
{
    return from && to && from != to && abs(from - to) <= 2;
}

static bool goes_on(const struct harmonising *work, size_t note, int direction)
{
    return beside(work, note, direction) == work->tune.at[note].semitones;
}

/*
 * What a quarter of a foreign tone costs, by how it moves; what a slot strikes again and again
 * counts as one. What goes on in the next slot is to be told from the chord there.
 */
static int64_t price_foreign(const struct harmonising *work, const struct slot *slot, size_t note,
                             bool *goes)
{
    const struct note *const notes = work->tune.at;
    const int tone = notes[note].semitones;
    const bool is_held = muta_fraction_compare(notes[note].onset, slot->from) < 0;
    size_t first = note;
    size_t last = note;

    while (first > slot->note && goes_on(work, first, -1) &&
           muta_fraction_compare(notes[first - 1].onset, slot->from) >= 0)
        first--;
    while (last + 1 < slot->note_end && goes_on(work, last, 1))
        last++;
    const int before = beside(work, first, -1);
    const int behind = beside(work, last, 1);

    *goes = behind == tone;
    if (is_held)
        return is_step(tone, behind) ? LEANING : UNNAMED;
    if (is_step(tone, behind) && (is_step(before, tone) || before == tone))
        return notes[note].is_strong ? LEANING : FLEETING;
    if (is_step(tone, behind))
        return notes[note].is_strong ? LEANING + FLEETING : FREE_STEP;
    return behind == tone || is_step(before, tone) ? FREE_STEP : UNNAMED;
}

/* Whether a tone has the letter of one of the chord's, and is not that. */
static bool clashes(const struct option *option, muta_pitch pitch)
{
    const muta_chord_row *const row = muta_chord_row_of(option->value.kind);

    for (uint8_t i = 0; i < row->count; i++)
        if (abs(option->value.root + row->fifths[i] - muta_pitch_fifths(pitch)) == 7)
            return true;
    return false;
}

/* What the composer did needs no rule, but the farther one strays the more it does. */
static int64_t licence(const struct harmonising *work)
{
    if (work->is_anew)
        return UNNAMED;
    return FREE_STEP +
           (UNNAMED - FREE_STEP) * work->stray / 1000 * work->stray / 1000 * work->stray / 1000;
}

/* How many times as much a foreign tone on a beat costs: where the composer leans there over the
 * chord that was there, once; over another nobody asked for it. */
static int64_t leans(const struct harmonising *work, const struct option *option)
{
    return work->is_anew ? ANEW_LEANS : option->is_old ? 1 : NEW_LEANS;
}

/* What a quarter of a foreign tone costs. */
static int64_t price_named(const struct harmonising *work, const struct slot *slot,
                           const struct option *option, size_t note, bool *goes)
{
    const int64_t named = price_foreign(work, slot, note, goes);

    /* A phrase ends on a tone of its chord. */
    if (work->is_anew && work->tune.at[note].closes)
        return UNNAMED;
    return work->tune.at[note].is_strong ? leans(work, option) * named : named;
}

static int64_t price_tune(const struct harmonising *work, const struct slot *slot,
                          struct option *option)
{
    int64_t price = 0;

    for (size_t i = slot->note; i < slot->note_end; i++) {
        const struct note *const note = &work->tune.at[i];
        if (has(option, note->semitones) || muta_fraction_compare(note->end, slot->from) <= 0)
            continue;
        const muta_fraction end = muta_fraction_min(slot->to, note->end);
        const muta_fraction lasts =
            muta_fraction_subtract(end, muta_fraction_max(note->onset, slot->from));
        bool goes;
        const int64_t named = price_named(work, slot, option, i, &goes);
        const int64_t most = option->is_old ? licence(work) : UNNAMED;
        const int64_t each = named < most ? named : most;
        const muta_fraction cost = muta_fraction_scale(lasts, each);
        if (goes)
            option->anticipates = (int16_t)note->semitones;
        price += !option->is_old && clashes(option, note->pitch) ? CLASH : 0;
        option->is_unfit = option->is_unfit || each >= UNNAMED;
        price += each >= UNNAMED ? UNNAMED : cost.top / (cost.bottom ? cost.bottom : 1);
    }
    return price;
}

/* ---- candidates ---- */

static size_t shared_tones(const struct option *option, const muta_passage_chord *old)
{
    const muta_chord_row *const row = muta_chord_row_of(old->value.kind);
    size_t count = 0;

    for (uint8_t i = 0; i < row->count; i++)
        count += has(option, muta_fifths_class(old->value.root + row->fifths[i]));
    return count;
}

/*
 * How far a chord is from the old one: 0 the same, 1 over another bass, 2 on the same root, then by
 * the tones that they share.
 */
static int64_t distance(const struct option *option, const muta_passage_chord *old)
{
    const bool same_root = option->root_class == muta_fifths_class(old->value.root);
    const size_t shared = shared_tones(option, old);

    if (same_root && option->value.kind == old->value.kind)
        return option->value.bass != old->value.bass;
    if (same_root && shared >= 2)
        return 2;
    return shared >= 2 ? 4 : shared == 1 ? 6 : FARTHEST;
}

/* What draws to the old chord fades fast as one strays, and what drives away from it grows. */
static int64_t price_stray(const struct harmonising *work, int64_t away)
{
    if (work->is_anew)
        return DRAWN * away;
    const int64_t stay = 1000 - work->stray;
    const int64_t draws = AWAY * stay / 1000 * stay / 1000 * stay / 1000;
    const int64_t drives = NEAR * work->stray / (work->stray + SLOWLY);

    return draws * away + drives * (FARTHEST - away);
}

static int64_t price_inversion(const struct option *option)
{
    switch (option->value.bass) {
    case 0:
        return 0;
    case 1:
        return INVERTED;
    case 2:
        return SECOND_INVERSION;
    default:
        return THIRD_INVERSION;
    }
}

/* What follows from a chord and its bass. */
static void hear_option(const struct slot *slot, struct option *option)
{
    const muta_chord_row *const row = muta_chord_row_of(option->value.kind);
    const int32_t leading =
        muta_chord_leading(option->value.kind, option->value.root, slot->old->tonic);

    option->root_class = (uint8_t)muta_fifths_class(option->value.root);
    option->bass_class = (uint8_t)muta_fifths_class(
        option->value.root + row->fifths[option->value.bass < row->count ? option->value.bass : 0]);
    option->leading = (int16_t)(leading == MUTA_NO_LEADING ? NO_CLASS : muta_fifths_class(leading));
    option->seventh = (int16_t)(muta_chord_has_seventh(option->value.kind)
                                    ? muta_fifths_class(option->value.root + row->fifths[3])
                                    : NO_CLASS);
    for (uint8_t i = 0; i < row->count; i++)
        option->tones |= (uint16_t)(1U << muta_fifths_class(option->value.root + row->fifths[i]));
}

/* Whether a tone of a chord lies so far from its key on the line of fifths that C would have C flat
 * or E sharp. */
static bool is_far(const muta_chord *chord, int32_t tonic)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->kind);

    for (uint8_t i = 0; i < row->count; i++) {
        const int32_t away = chord->root + row->fifths[i] - tonic;
        if (away < -6 || away > 9)
            return true;
    }
    return false;
}

static muta_status add_option(struct harmonising *work, struct slot *slot, struct option option)
{
    hear_option(slot, &option);
    /* The same root with a seventh more or less is no other chord. */
    if (!option.is_old && option.root_class == muta_fifths_class(slot->old->value.root) &&
        !work->is_anew)
        return MUTA_OK;
    if (work->is_anew && !option.is_old && option.seventh != NO_CLASS &&
        !muta_chord_is_dominant(option.value.kind))
        option.cost = ANEW_SEVENTH;
    if (work->is_anew && !option.is_old && is_far(&option.value, slot->old->tonic))
        option.cost += ANEW_FAR;
    option.tune = price_tune(work, slot, &option);
    option.cost += option.of.cost + (option.is_old ? 0 : price_inversion(&option)) +
                   price_stray(work, distance(&option, slot->old)) + option.tune;
    struct option *const added = MUTA_PUSH(&work->arena, &work->options);
    if (!added)
        return MUTA_E_MEMORY;
    *added = option;
    slot->count++;
    return MUTA_OK;
}

/* The old chord as it stood, and what it does in its key as far as its root tells. */
static muta_status add_old(struct harmonising *work, struct slot *slot)
{
    static const muta_function functions[12] = {
        MUTA_FUNCTION_TONIC,    MUTA_FUNCTION_SUBDOMINANT, MUTA_FUNCTION_SUBDOMINANT,
        MUTA_FUNCTION_TONIC,    MUTA_FUNCTION_TONIC,       MUTA_FUNCTION_SUBDOMINANT,
        MUTA_FUNCTION_DOMINANT, MUTA_FUNCTION_DOMINANT,    MUTA_FUNCTION_TONIC,
        MUTA_FUNCTION_TONIC,    MUTA_FUNCTION_DOMINANT,    MUTA_FUNCTION_DOMINANT};
    const muta_passage_chord *const old = slot->old;
    struct option option = {.value = old->value, .is_old = true};

    option.of = (muta_palette_chord){.value = old->value, .goal = MUTA_NO_GOAL};
    option.of.value.root -= old->tonic;
    option.of.function = functions[muta_fifths_class(option.of.value.root)];
    return add_option(work, slot, option);
}

/* In each of the positions that it may stand in; those of the sixths are their own. */
static muta_status add_chord(struct harmonising *work, struct slot *slot,
                             const muta_palette_chord *chord)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->value.kind);
    const bool is_sixth = chord->value.kind == MUTA_CHORD_ITALIAN ||
                          chord->value.kind == MUTA_CHORD_GERMAN ||
                          chord->value.kind == MUTA_CHORD_FRENCH;
    struct option option = {.value = chord->value, .of = *chord};

    option.value.root += slot->old->tonic;
    for (uint8_t bass = 0; bass < row->count && bass < 4; bass++) {
        option.value.bass = bass;
        if ((is_sixth && bass > 0) || (row->count == MUTA_CHORD_MOST && bass > 0) ||
            (bass == 2 && chord->value.kind != MUTA_CHORD_MAJOR &&
             chord->value.kind != MUTA_CHORD_MINOR && chord->value.kind != MUTA_CHORD_DOMINANT))
            continue;
        MUTA_TRY(add_option(work, slot, option));
    }
    return MUTA_OK;
}

/* Whether no candidate so far goes with the tune. */
static bool is_outgrown(const struct harmonising *work, const struct slot *slot)
{
    for (size_t i = 0; i < slot->count; i++)
        if (!work->options.at[slot->option + i].is_unfit)
            return false;
    return true;
}

/* Where the plain chords do not go with a tune. */
static const char beyond[] = "common-practice";

/* Reads the chords of a palette, in major or minor, once. */
static muta_status read_palette(struct harmonising *work, struct palette *palette, const char *name,
                                bool is_minor)
{
    const char *at = muta_table_palettes;
    muta_palette_chord chord;

    palette->is_read = true;
    while (muta_palette_next(&at, name, is_minor, &chord)) {
        muta_palette_chord *const added = MUTA_PUSH(&work->arena, &palette->chords);
        if (!added)
            return MUTA_E_MEMORY;
        *added = chord;
    }
    return MUTA_OK;
}

/* Puts the chords of the palette that was asked for into a slot, or those beyond it. */
static muta_status add_palette(struct harmonising *work, struct slot *slot, bool goes_beyond)
{
    struct palette *const palette = &work->palettes[goes_beyond][slot->old->is_minor];

    if (!palette->is_read)
        MUTA_TRY(read_palette(work, palette, goes_beyond ? beyond : work->args->palette,
                              slot->old->is_minor));
    for (size_t i = 0; i < palette->chords.count; i++)
        MUTA_TRY(add_chord(work, slot, &palette->chords.at[i]));
    return MUTA_OK;
}

static muta_status find_options(struct harmonising *work)
{
    work->options.count = 0;
    for (size_t i = 0; i < work->slots.count; i++) {
        struct slot *const slot = &work->slots.at[i];
        slot->option = work->options.count;
        slot->count = 0;
        MUTA_TRY(add_old(work, slot));
        /* Where the tune rests another may have it: nothing is changed there. */
        const bool is_silent = slot->note == slot->note_end;
        if (is_silent || (slot->is_fixed && !(work->is_anew && is_outgrown(work, slot))) ||
            (slot->is_cadence && !is_outgrown(work, slot)))
            continue;
        MUTA_TRY(add_palette(work, slot, false));
        if (work->is_anew && is_outgrown(work, slot))
            MUTA_TRY(add_palette(work, slot, true));
    }
    return MUTA_OK;
}

/* The next beat after a slot began; its end when it is no longer. */
static muta_fraction next_beat(const struct harmonising *work, const struct slot *slot)
{
    muta_beat beat;

    muta_passage_beat_at(work->call->in, slot->from, &beat);
    const muta_fraction beats =
        muta_fraction_divide(muta_fraction_subtract(slot->from, beat.bar), beat.beat);
    const int64_t whole = beats.bottom > 0 ? beats.top / beats.bottom : 0;
    return muta_fraction_min(
        slot->to, muta_fraction_add(beat.bar, muta_fraction_scale(beat.beat, whole + 1)));
}

/* Whether all of the tune in a slot has a name over a chord; where nobody chose them together, no
 * tone leans hard. */
static bool goes_with_tune(const struct harmonising *work, const struct option *option)
{
    return work->is_anew ? option->tune <= (int64_t)ANEW_LEANS * LEANING : !option->is_unfit;
}

/* Whether a slot is longer than a beat, and no chord goes with all of the tune in it. */
static bool is_too_long(const struct harmonising *work, const struct slot *slot)
{
    for (size_t i = 0; i < slot->count; i++)
        if (goes_with_tune(work, &work->options.at[slot->option + i]))
            return false;
    const muta_fraction beat = next_beat(work, slot);
    return muta_fraction_compare(beat, slot->from) > 0 && muta_fraction_compare(beat, slot->to) < 0;
}

/* Parts at their first beat the slots that are too long; `parted` when there were such. */
static muta_status part_slots(struct harmonising *work, bool *parted)
{
    const size_t count = work->slots.count;
    struct slot *const old = muta_arena_take_array(&work->arena, count + 1, sizeof *old);

    if (!old)
        return MUTA_E_MEMORY;
    *parted = false;
    for (size_t i = 0; i < count; i++)
        *parted = *parted || is_too_long(work, &work->slots.at[i]);
    if (!*parted)
        return MUTA_OK;
    memcpy(old, work->slots.at, count * sizeof *old);
    work->slots.count = 0;
    for (size_t i = 0; i < count; i++) {
        const struct slot *const slot = &old[i];
        const muta_fraction middle = is_too_long(work, slot) ? next_beat(work, slot) : slot->to;
        MUTA_TRY(add_slot(work, slot->from, middle, slot->old, slot->is_split));
        if (muta_fraction_compare(middle, slot->to) < 0)
            MUTA_TRY(add_slot(work, middle, slot->to, slot->old, true));
    }
    fix_ends(work);
    return MUTA_OK;
}

/* What may stand in each slot, so that the tune goes with it as far as any chord does. */
static muta_status find_fitting(struct harmonising *work)
{
    bool parted = true;

    for (size_t round = 0; parted; round++) {
        hear_tune(work);
        hear_held(work);
        fix_cadences(work);
        MUTA_TRY(find_options(work));
        parted = false;
        if (round < PARTINGS)
            MUTA_TRY(part_slots(work, &parted));
    }
    return MUTA_OK;
}

/* ---- from chord to chord ---- */

/* Semitones up from one pitch class to another. */
static int up_from(int from, int to)
{
    return to < from ? to - from + 12 : to - from;
}

static int64_t price_function(const struct option *from, const struct option *to)
{
    static const int16_t prices[3][3] = {
        [MUTA_FUNCTION_TONIC] = {SAME_FUNCTION, 0, 100},
        [MUTA_FUNCTION_SUBDOMINANT] = {PLAGAL, SAME_FUNCTION, 0},
        [MUTA_FUNCTION_DOMINANT] = {0, BACKWARD, SAME_FUNCTION},
    };

    return prices[from->of.function][to->of.function];
}

static bool is_six_four(const struct option *option)
{
    return option->value.bass == 2 && option->of.value.root == 0 &&
           option->of.function == MUTA_FUNCTION_TONIC;
}

static bool is_dominant(const struct option *option)
{
    return option->of.value.root == 1 && option->of.function == MUTA_FUNCTION_DOMINANT;
}

/* A chord that leads reaches its goal, or a six-four before it, or stays on the same root. */
static int64_t price_goal(const struct option *from, const struct option *to)
{
    const int32_t goal = from->of.goal;

    const bool same_root = from->root_class == to->root_class;

    /* What was a dominant does not fade into the minor. */
    if (same_root && muta_chord_is_dominant(from->value.kind) &&
        !muta_chord_is_dominant(to->value.kind))
        return NO_GOAL;
    if (goal == MUTA_NO_GOAL || same_root)
        return 0;
    if (to->of.value.root == goal || (goal == 1 && is_six_four(to)))
        return -PLAGAL;
    return NO_GOAL;
}

static int64_t price_bass(const struct option *from, const struct option *to)
{
    const int moves = up_from(from->bass_class, to->bass_class);
    const int64_t price = moves == 6 ? TRITONE_LEAP : 0;
    const bool falls = moves == 0 || moves >= 10; /* by step, or stays */
    const bool steps = falls || moves <= 2;

    if (is_six_four(from))
        return price + (is_dominant(to) && moves == 0 ? CADENTIAL - SECOND_INVERSION : NO_GOAL);
    return price + ((from->value.bass == 3 && !falls) || (from->value.bass == 2 && !steps)
                        ? UNRESOLVED_BASS
                        : 0);
}

/* A seventh stays, or has a tone a step below it in the next chord; in the tune it goes there. */
static int64_t price_seventh(const struct slot *before, const struct slot *slot,
                             const struct option *from, const struct option *to)
{
    const int seventh = from->seventh;
    const int falls = before->tune - slot->tune;

    if (seventh == NO_CLASS || has(to, seventh))
        return 0;
    if (before->tune && slot->tune && before->tune_class == seventh)
        return falls != 1 && falls != 2 ? SEVENTH_LEFT : 0;
    return has(to, seventh - 1) || has(to, seventh - 2) ? 0 : SEVENTH_LEFT;
}

static int64_t price_root(const struct option *from, const struct option *to)
{
    static const int16_t prices[12] = {700,  700, 400, 500, 400, 0,
                                       1400, 400, 300, 200, 600, 700}; /* semitones up */

    return prices[up_from(from->root_class, to->root_class)];
}

static bool is_same(const struct option *a, const struct option *b)
{
    return a->root_class == b->root_class && a->value.kind == b->value.kind;
}

/* Whether the tune and the bass go in fifths or octaves. */
static bool are_parallel(const struct slot *before, const struct slot *slot,
                         const struct option *from, const struct option *to)
{
    return before->last && slot->tune &&
           muta_semitones_parallel(muta_semitones_class(before->last), slot->tune_class,
                                   from->bass_class, to->bass_class);
}

/* Whether the tune leaps to a fifth or an octave over a bass that goes the same way, as far as it
 * goes the nearest way. */
static bool are_hidden(const struct slot *before, const struct slot *slot,
                       const struct option *from, const struct option *to)
{
    const int leap = slot->tune - before->last;
    const int between = up_from(to->bass_class, slot->tune_class);
    const int up = up_from(from->bass_class, to->bass_class);

    return before->last && slot->tune && abs(leap) > 2 && up != 0 && (up < 6) == (leap > 0) &&
           (between == 0 || between == 7);
}

/* Whether the leading tone, in the bass or the tune, does not rise to its tonic. */
static bool leaves_leading(const struct slot *before, const struct slot *slot,
                           const struct option *from, const struct option *to)
{
    const int was = from->leading;
    const int tonic = to->root_class;

    if (was == NO_CLASS || up_from(was, tonic) != 1)
        return false;
    return (from->bass_class == was && to->bass_class != tonic) ||
           (before->tune && slot->tune && before->tune_class == was &&
            slot->tune - before->tune != 1);
}

/* Whether a chord leads to the tonic. */
static bool leads_home(const struct option *option)
{
    return option->of.function == MUTA_FUNCTION_DOMINANT &&
           (option->of.goal == MUTA_NO_GOAL || option->of.goal == 0);
}

/* The end of a phrase stays what it was: on the tonic, with its dominant before, or open on that.
 */
static int64_t price_cadence(const struct harmonising *work, const struct slot *slot,
                             const struct option *from, const struct option *to)
{
    const int32_t was = slot->old->value.root - slot->old->tonic;

    if (!slot->is_close || (was != 0 && was != 1))
        return 0;
    if (to->of.value.root != was)
        return was == 0 && to->of.function == MUTA_FUNCTION_TONIC
                   ? DECEPTIVE * (1000 - work->stray) / 1000
                   : NO_CADENCE;
    if (was != 0 || !from || from->is_old || leads_home(from))
        return 0;
    const int32_t before = slot[-1].old->value.root - slot[-1].old->tonic;
    return before == 1 || before == 5 ? NO_CADENCE : WEAK_APPROACH;
}

/* What is held can stay where the two chords share a tone. */
static int64_t price_held(const struct slot *slot, const struct option *from,
                          const struct option *to)
{
    int64_t shared = 0;

    if (slot->held == 0)
        return 0;
    for (unsigned both = from->tones & to->tones; both; both &= both - 1)
        shared++;
    return slot->held > shared ? (slot->held - shared) * HELD : 0;
}

static uint32_t count_options(void *context, size_t step)
{
    const struct harmonising *const work = context;

    return (uint32_t)work->slots.at[step].count;
}

static int64_t price_option(void *context, size_t step, uint32_t from_index, uint32_t to_index)
{
    const struct harmonising *const work = context;
    const struct slot *const slot = &work->slots.at[step];
    const struct option *const to = &work->options.at[slot->option + to_index];

    if (from_index == MUTA_NO_CANDIDATE)
        return to->cost;
    const struct slot *const before = &work->slots.at[step - 1];
    const struct option *const from = &work->options.at[before->option + from_index];
    int64_t price = to->cost + price_cadence(work, slot, from, to);
    if (slot->is_held && from->bass_class != to->bass_class)
        price += HELD_BASS;
    if (from->anticipates && !has(to, from->anticipates))
        price += from->is_old ? licence(work) : UNNAMED;
    if (is_same(from, to))
        return price + (slot->is_split || slot->is_turned ? 0 : STUCK);
    /* What the composer did needs no rules. */
    if (from->is_old && to->is_old && !slot->is_split)
        return price + (work->is_anew && are_parallel(before, slot, from, to) ? PARALLEL : 0);
    price += slot->is_turned ? TURNED : slot->is_split ? RESTLESS : 0;
    price += price_held(slot, from, to);
    price += price_function(from, to) + price_goal(from, to) + price_bass(from, to) +
             price_root(from, to) + price_seventh(before, slot, from, to);
    if (are_parallel(before, slot, from, to))
        return price + PARALLEL;
    price += leaves_leading(before, slot, from, to) ? LEADING_LEFT : 0;
    return price + (are_hidden(before, slot, from, to) ? HIDDEN : 0);
}

/* ---- the answer ---- */

/* Whether two answers differ in what sounds. */
static bool differ(const struct harmonising *work, const muta_answer *a, const muta_answer *b)
{
    for (size_t i = 0; i < work->slots.count; i++) {
        const struct option *const one = &work->options.at[work->slots.at[i].option + a->taken[i]];
        const struct option *const two = &work->options.at[work->slots.at[i].option + b->taken[i]];
        if (!is_same(one, two) || one->bass_class != two->bass_class)
            return true;
    }
    return false;
}

/* The pick-th of the answers that differ. */
static const muta_answer *choose(const struct harmonising *work, const muta_answer *answers,
                                 size_t found, size_t pick)
{
    const muta_answer *last = &answers[0];

    for (size_t i = 1; i < found && pick > 1; i++) {
        bool is_new = true;
        for (size_t j = 0; j < i && is_new; j++)
            is_new = differ(work, &answers[j], &answers[i]);
        if (!is_new)
            continue;
        last = &answers[i];
        pick--;
    }
    return last;
}

static muta_status search(struct harmonising *work, const muta_answer **answer)
{
    enum {
        ALIKE = 4 /* answers that may differ in name alone */
    };
    const muta_search how = {work, work->slots.count, count_options, price_option};
    const size_t wanted = work->call->pick == 1 ? 1 : work->call->pick * ALIKE;
    muta_answer *const answers = muta_arena_take_array(&work->arena, wanted, sizeof *answers);
    size_t found;

    if (!answers)
        return MUTA_E_MEMORY;
    MUTA_TRY(muta_search_best(&work->arena, &how, wanted, answers, &found));
    if (found == 0)
        return MUTA_E_FAULT;
    *answer = choose(work, answers, found, work->call->pick);
    return MUTA_OK;
}

static muta_passage_chord chord_of(const struct slot *slot, const struct option *option)
{
    muta_passage_chord chord = *slot->old;
    const bool stays = option->root_class == muta_fifths_class(chord.value.root) &&
                       option->value.kind == chord.value.kind &&
                       option->value.bass == chord.value.bass;

    chord.from = slot->from;
    chord.to = slot->to;
    if (stays)
        return chord;
    chord.value = option->value;
    chord.is_written = false;
    muta_numeral_set(&chord);
    return chord;
}

static muta_status take(struct harmonising *work, const muta_answer *answer)
{
    muta_passage *const out = work->call->out;
    muta_passage_chord *const chords =
        muta_arena_take_array(&work->arena, work->slots.count + 1, sizeof *chords);

    if (!chords)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < work->slots.count; i++)
        chords[i] = chord_of(&work->slots.at[i],
                             &work->options.at[work->slots.at[i].option + answer->taken[i]]);
    return muta_passage_set_chords(out, chords, work->slots.count);
}

static bool has_symbols(const muta_passage *passage)
{
    for (size_t i = 0; i < passage->chord_count; i++)
        if (passage->chords[i].is_written)
            return true;
    return false;
}

static bool has_accompaniment(const muta_texture *work)
{
    for (size_t i = 0; i < work->tone_count; i++)
        if (!work->tones[i].is_tune && !work->tones[i].is_fixed)
            return true;
    return false;
}

/* ---- the accompaniment ---- */

static muta_harmony_slot slot_of(const struct slot *slot, const muta_chord *value)
{
    return (muta_harmony_slot){.value = {.root = value->root, .kind = value->kind},
                               .leading =
                                   muta_chord_leading(value->kind, value->root, slot->old->tonic)};
}

/* How its voices stood. */
static muta_status hear_parts(struct harmonising *work)
{
    const size_t count = work->slots.count;
    const muta_texture out = muta_passage_work(work->call->out);

    work->pitches = muta_arena_take_array(&work->arena, out.tone_count + 1, sizeof(muta_pitch));
    work->onsets = muta_arena_take_array(&work->arena, count + 1, sizeof *work->onsets);
    work->old_slots = muta_arena_take_array(&work->arena, count + 1, sizeof *work->old_slots);
    work->new_slots = muta_arena_take_array(&work->arena, count + 1, sizeof *work->new_slots);
    work->were = muta_arena_take_array(&work->arena, count + 1, sizeof *work->were);
    work->are = muta_arena_take_array(&work->arena, count + 1, sizeof *work->are);
    if (!work->pitches || !work->onsets || !work->old_slots || !work->new_slots || !work->were ||
        !work->are)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < out.tone_count; i++)
        work->pitches[i] = out.tones[i].pitch;
    for (size_t i = 0; i < count; i++) {
        const struct slot *const slot = &work->slots.at[i];
        work->onsets[i] = slot->from;
        work->old_slots[i] = slot_of(slot, &slot->old->value);
    }
    muta_part_writing_hear(work->call->in, work->old_slots, work->onsets, count, work->were);
    return MUTA_OK;
}

/* Moves the accompaniment onto the chords of an answer. */
static muta_status follow(struct harmonising *work, const muta_answer *answer)
{
    muta_passage *const out = work->call->out;
    const size_t count = muta_passage_work(out).tone_count;

    MUTA_TRY(take(work, answer));
    for (size_t i = 0; i < count; i++)
        muta_passage_set_pitch(out, &muta_passage_tones(out)[i], work->pitches[i]);
    return muta_refigure(work->call->in, out);
}

static void blame(struct option *option, size_t faults)
{
    option->cost += option->is_old ? 0 : (int64_t)faults * BADLY_LED;
}

/* How often it breaks rules where it did not before; the chords that make it become dearer. */
static size_t weigh(struct harmonising *work, const muta_answer *answer)
{
    const size_t count = work->slots.count;
    size_t worse = 0;

    for (size_t i = 0; i < count; i++) {
        const struct slot *const slot = &work->slots.at[i];
        const struct option *const option = &work->options.at[slot->option + answer->taken[i]];
        work->new_slots[i] = slot_of(slot, &option->value);
    }
    muta_part_writing_hear(work->call->out, work->new_slots, work->onsets, count, work->are);
    for (size_t i = 1; i < count; i++) {
        const struct slot *const slot = &work->slots.at[i];
        const size_t were = muta_voicing_faults(&work->were[i - 1], &work->were[i]);
        const size_t are = muta_voicing_faults(&work->are[i - 1], &work->are[i]);
        if (are <= were)
            continue;
        worse += are - were;
        blame(&work->options.at[slot->option + answer->taken[i]], are - were);
        blame(&work->options.at[slot[-1].option + answer->taken[i - 1]], are - were);
    }
    return worse;
}

/* Chords onto which the accompaniment can be led as well as it was, as far as that goes. */
static muta_status search_led(struct harmonising *work)
{
    const muta_answer *best = NULL;
    const muta_answer *last = NULL;
    size_t least = SIZE_MAX;

    MUTA_TRY(hear_parts(work));
    for (size_t round = 0; round < ROUNDS && least > 0; round++) {
        MUTA_TRY(search(work, &last));
        MUTA_TRY(follow(work, last));
        const size_t worse = weigh(work, last);
        if (worse >= least)
            continue;
        least = worse;
        best = last;
    }
    return best == last ? MUTA_OK : follow(work, best);
}

static muta_status harmonise(struct harmonising *work)
{
    const bool rewrites = work->args->figuration == REWRITE && has_accompaniment(&work->work);
    const muta_answer *answer;

    MUTA_TRY(find_slots(work));
    if (work->slots.count == 0 || (work->is_anew && !rewrites && !has_symbols(work->call->in)))
        return MUTA_OK;
    MUTA_TRY(find_fitting(work));
    if (!rewrites || has_symbols(work->call->in))
        work->call->out->says |= MUTA_SAYS_SYMBOLS;
    if (rewrites)
        return search_led(work);
    MUTA_TRY(search(work, &answer));
    return take(work, answer);
}

static muta_status reharmonise(const muta_call *call, const struct args *args, bool is_anew)
{
    const muta_fraction thousandths = muta_fraction_scale(args->stray, 1000);
    struct harmonising work = {.call = call,
                               .args = args,
                               .work = muta_passage_work(call->in),
                               .stray = thousandths.top / thousandths.bottom,
                               .is_anew = is_anew};

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    muta_status status = find_tune(&work);
    if (status == MUTA_OK && work.tune.count > 0)
        status = harmonise(&work);
    muta_arena_clear(&work.arena);
    return status;
}

static muta_status run(const muta_call *call)
{
    return reharmonise(call, call->args, false);
}

muta_status muta_harmonise_anew(const muta_call *call)
{
    static const struct args near = {"plain", {0, 1}, REWRITE};

    return reharmonise(call, &near, true);
}

const muta_pass muta_pass_reharmonise = {
    .name = "reharmonise",
    .group = "harmony",
    .summary = "other chords under the same tune",
    .keeps = "the tune, the first and the last chord, how phrases end, the figures",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_EVERYTHING,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_KEEPS_CHORDS,
    .answer = MUTA_MAY_FIND_NOTHING | MUTA_HAS_NEXT_BEST,
    .run = run,
};
