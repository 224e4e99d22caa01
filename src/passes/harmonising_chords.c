/* harmonising_chords.c: which chords may stand in a slot, by its tune, its key and what stood
 * there.
 */
#include "passes/harmonising.h"
#include "study/heard.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

/* Costs in thousandths; set by hand. */
enum {
    CLASH = 12000,    /* the tune has another form of a tone of the chord: F sharp over F */
    LEANING = 1500,   /* a quarter of a foreign tone on a beat, resolved by step */
    FLEETING = 500,   /* the same off the beat */
    FREE_STEP = 2500, /* a quarter of one left or reached by step alone */
    INVERTED = 350,
    THIRD_INVERSION = 700,
    AWAY = 200, /* each step away from the old chord, at stray 0 */
    FARTHEST = 8,
    DRAWN = 200,     /* each step away from the old chord, under a tune that is not what it was, */
    ANEW_FAR = 6000, /* one with signs that nobody expects in its key */
    ANEW_SEVENTH = 600,    /* a seventh chord that is none of a dominant's, under such a tune */
    ALONE_APPLIED = 800,   /* a dominant of another step under a line alone, */
    ALONE_INVERTED = 350,  /* an inversion in a song, */
    ALONE_SEVENTH = 500,   /* a seventh chord there that is none of a dominant's */
    ALONE_ROUGH = 1500,    /* a diminished triad on its root, a six-four */
    CHROMATIC = 3000,      /* a tone that is not of the key, nor of the chord */
    DOUBLED = 900,         /* the bass has the tune's tone, in a chorale */
    DOUBLED_LIGHT = 150,   /* and in a song */
    BLAND = 900,           /* the tonic in the place of another chord */
    ITS_OWN = 7000,        /* another chord under an accompaniment that is all runs and tunes */
    TUTTI = 20000,         /* or that is nothing else at all */
    A_LINE = 4,            /* so many tones that run are a line of its own, whatever else sounds */
    FLEETING_CHORD = 3000, /* another chord for less than a beat */
    FAR = 3000,            /* one with signs that nobody expects in its key */
    OFF_PEDAL = 8000,      /* one whose bass leaves a pedal */
    COLOUR = 3000,         /* one in the place of a chord with signs that leads to the next, */
    DOMINANT = 1000,       /* or of a dominant before its tonic */
    CONTRADICTED = 2500, /* one that has another form of what the tune has just before or behind */
    STRANGE = 6000,      /* a chord that is not of the key to which the music goes */
    PLAIN = 4000,        /* one that could be richer, where that is asked for */
    ANEW_LEANS = 3, /* under which foreign tones on beats cost so many times as much: nobody chose
                       them */
    NEW_LEANS = 4,  /* and so many times as much over any chord that is put in */
    PARTINGS = 16,  /* more beats than that a bar are no harmony's */
};

/* ---- the tune over a chord ---- */

bool muta_harmonised_has(const struct muta_harmonised_option *option, int semitones)
{
    return option->tones & (1U << muta_semitones_class(semitones));
}

/* The tone of the tune before (-1) or behind (1) one, over a rest of a quarter at most, as study
 * hears it; 0: none. */
static int beside(const struct muta_harmonising *work, size_t note, int direction)
{
    const size_t other = direction < 0 ? note - 1 : note + 1; /* before the first: none */

    if (other >= work->tune.count)
        return 0;
    const struct muta_harmonised_note *const first = &work->tune.at[direction < 0 ? other : note];
    const struct muta_harmonised_note *const second = &work->tune.at[direction < 0 ? note : other];
    const muta_fraction rest = muta_fraction_subtract(second->onset, first->end);
    return muta_fraction_compare(rest, muta_fraction_of(1, 1)) <= 0 ? work->tune.at[other].semitones
                                                                    : 0;
}

static bool is_step(int from, int to)
{
    return from && to && from != to && abs(from - to) <= 2;
}

static bool goes_on(const struct muta_harmonising *work, size_t note, int direction)
{
    return beside(work, note, direction) == work->tune.at[note].semitones;
}

/*
 * What a quarter of a foreign tone costs, by how it moves; what a slot strikes again and again
 * counts as one. What goes on in the next slot is to be told from the chord there.
 */
static int64_t price_foreign(const struct muta_harmonising *work,
                             const struct muta_harmonised_slot *slot, size_t note, bool is_old,
                             bool *goes)
{
    const struct muta_harmonised_note *const notes = work->tune.at;
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
        return is_step(tone, behind) ? LEANING : MUTA_UNNAMED;
    if (is_step(tone, behind) && (is_step(before, tone) || before == tone))
        return notes[note].is_strong ? LEANING : FLEETING;
    if (is_step(tone, behind))
        return notes[note].is_strong ? LEANING + FLEETING : FREE_STEP;
    return (behind == tone && (is_old || work->is_anew)) || is_step(before, tone) ? FREE_STEP
                                                                                  : MUTA_UNNAMED;
}

/* Whether a tone has the letter of one of the chord's, and is not that. */
static bool clashes(const struct muta_harmonised_option *option, muta_pitch pitch)
{
    const muta_chord_row *const row = muta_chord_row_of(option->value.kind);

    for (uint8_t i = 0; i < row->count; i++)
        if (abs(option->value.root + row->fifths[i] - muta_pitch_fifths(pitch)) == 7)
            return true;
    return false;
}

/* Whether a tone is not of its key, nor the raised sixth of the minor. */
static bool is_chromatic(const struct muta_harmonised_slot *slot, muta_pitch pitch)
{
    const int32_t away = muta_pitch_fifths(pitch) - slot->old->tonic;

    return slot->old->is_minor ? away < -4 || away > 3 : away < -1 || away > 5;
}

static bool has_spelled(const struct muta_harmonised_option *option, muta_pitch pitch)
{
    const muta_chord_row *const row = muta_chord_row_of(option->value.kind);

    for (uint8_t i = 0; i < row->count; i++)
        if (option->value.root + row->fifths[i] == muta_pitch_fifths(pitch))
            return true;
    return false;
}

int64_t muta_harmonising_licence(const struct muta_harmonising *work)
{
    if (work->is_anew)
        return MUTA_UNNAMED;
    return FREE_STEP + (MUTA_UNNAMED - FREE_STEP) * work->stray / 1000 * work->stray / 1000 *
                           work->stray / 1000;
}

/* How many times as much a foreign tone on a beat costs: where the composer leans there over the
 * chord that was there, once; over another nobody asked for it. */
static int64_t leans(const struct muta_harmonising *work,
                     const struct muta_harmonised_option *option)
{
    return work->is_anew || work->alone ? ANEW_LEANS : option->is_old ? 1 : NEW_LEANS;
}

/* What a quarter of a foreign tone costs. */
static int64_t price_named(const struct muta_harmonising *work,
                           const struct muta_harmonised_slot *slot,
                           const struct muta_harmonised_option *option, size_t note, bool *goes)
{
    const struct muta_harmonised_note *const tone = &work->tune.at[note];
    const int64_t named = price_foreign(work, slot, note, option->is_old, goes) +
                          (work->alone && is_chromatic(slot, tone->pitch) ? CHROMATIC : 0);

    /* A sharp sounds as a flat of the chord does, and is another tone. */
    if (muta_harmonised_has(option, tone->semitones))
        return MUTA_UNNAMED;
    /* A phrase ends on a tone of its chord. */
    if ((work->is_anew || work->alone) && tone->closes)
        return MUTA_UNNAMED;
    return tone->is_strong ? leans(work, option) * named : named;
}

static int64_t price_tune(const struct muta_harmonising *work,
                          const struct muta_harmonised_slot *slot,
                          struct muta_harmonised_option *option)
{
    int64_t price = 0;

    for (size_t i = slot->note; i < slot->note_end; i++) {
        const struct muta_harmonised_note *const note = &work->tune.at[i];
        if (muta_fraction_compare(note->end, slot->from) <= 0)
            continue;
        if (muta_harmonised_has(option, note->semitones) &&
            (option->is_old || has_spelled(option, note->pitch)))
            continue;
        const muta_fraction end = muta_fraction_min(slot->to, note->end);
        const muta_fraction lasts =
            muta_fraction_subtract(end, muta_fraction_max(note->onset, slot->from));
        bool goes;
        const int64_t named = price_named(work, slot, option, i, &goes);
        const int64_t most = option->is_old ? muta_harmonising_licence(work) : MUTA_UNNAMED;
        const int64_t each = named < most ? named : most;
        const muta_fraction cost = muta_fraction_scale(lasts, each);
        if (goes)
            option->anticipates = (int16_t)note->semitones;
        price += !option->is_old && clashes(option, note->pitch) ? CLASH : 0;
        /* Under a chord that nobody chose for it no tone of weight goes half its way. */
        option->is_unfit =
            option->is_unfit || each >= MUTA_UNNAMED ||
            (!option->is_old && !work->alone && each >= (int64_t)NEW_LEANS * FREE_STEP);
        price += each >= MUTA_UNNAMED ? MUTA_UNNAMED : cost.top / (cost.bottom ? cost.bottom : 1);
    }
    return price;
}

/* ---- candidates ---- */

static size_t shared_tones(const struct muta_harmonised_option *option,
                           const muta_passage_chord *old)
{
    const muta_chord_row *const row = muta_chord_row_of(old->value.kind);
    size_t count = 0;

    for (uint8_t i = 0; i < row->count; i++)
        count += muta_harmonised_has(option, muta_fifths_class(old->value.root + row->fifths[i]));
    return count;
}

/*
 * How far a chord is from the old one: 0 the same, 1 over another bass, 2 on the same root, then by
 * the tones that they share.
 */
static int64_t distance(const struct muta_harmonised_option *option, const muta_passage_chord *old)
{
    const bool same_root = option->root_class == muta_fifths_class(old->value.root);
    const size_t shared = shared_tones(option, old);

    if (same_root && option->value.kind == old->value.kind)
        return option->value.bass != old->value.bass;
    if (same_root && shared >= 2)
        return 2;
    return shared >= 2 ? 4 : shared == 1 ? 6 : FARTHEST;
}

/* What draws to chords that are like the old one fades as one strays. */
static int64_t price_stray(const struct muta_harmonising *work, int64_t away)
{
    if (work->alone)
        return 0;
    if (work->is_anew)
        return DRAWN * away;
    return AWAY * away * (1000 - work->stray) / 1000;
}

static int64_t price_inversion(const struct muta_harmonised_option *option)
{
    switch (option->value.bass) {
    case 0:
        return 0;
    case 1:
        return INVERTED;
    case 2:
        return MUTA_SECOND_INVERSION;
    default:
        return THIRD_INVERSION;
    }
}

/* What follows from a chord and its bass. */
static void hear_option(const struct muta_harmonised_slot *slot,
                        struct muta_harmonised_option *option)
{
    const muta_chord_row *const row = muta_chord_row_of(option->value.kind);
    const int32_t leading =
        muta_chord_leading(option->value.kind, option->value.root, slot->old->tonic);

    option->root_class = (uint8_t)muta_fifths_class(option->value.root);
    option->bass_class = (uint8_t)muta_fifths_class(
        option->value.root + row->fifths[option->value.bass < row->count ? option->value.bass : 0]);
    option->leading =
        (int16_t)(leading == MUTA_NO_LEADING ? MUTA_NO_CLASS : muta_fifths_class(leading));
    option->seventh = (int16_t)(muta_chord_has_seventh(option->value.kind)
                                    ? muta_fifths_class(option->value.root + row->fifths[3])
                                    : MUTA_NO_CLASS);
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

/* Whether a line has in a slot a tone that is not of the key, and is of a chord. */
static bool asks_for(const struct muta_harmonising *work, const struct muta_harmonised_slot *slot,
                     const struct muta_harmonised_option *option)
{
    for (size_t i = slot->note; i < slot->note_end; i++)
        if (is_chromatic(slot, work->tune.at[i].pitch) &&
            has_spelled(option, work->tune.at[i].pitch))
            return true;
    return false;
}

/* A bass of its own, or given; and no signs that the tune does not ask for. */
static int64_t price_alone(const struct muta_harmonising *work,
                           const struct muta_harmonised_slot *slot,
                           const struct muta_harmonised_option *option)
{
    int64_t price =
        option->of.goal == MUTA_NO_GOAL || asks_for(work, slot, option) ? 0 : ALONE_APPLIED;

    if (option->value.kind == MUTA_CHORD_DIMINISHED && option->value.bass == 0)
        price += ALONE_ROUGH;
    if (option->value.bass == 2 && option->of.value.root != 0)
        price += ALONE_ROUGH;

    if (is_far(&option->value, slot->old->tonic))
        price += ANEW_FAR;
    if (work->alone == MUTA_ALONE_BASS)
        return price + (slot->tune && option->bass_class != slot->tune_class ? MUTA_UNNAMED : 0);
    if (work->pace != MUTA_CHORD_A_BEAT && option->value.bass != 0)
        price += ALONE_INVERTED;
    if (work->pace != MUTA_CHORD_A_BEAT && option->seventh != MUTA_NO_CLASS &&
        option->value.kind != MUTA_CHORD_DOMINANT)
        price += ALONE_SEVENTH;
    if (slot->tune && option->bass_class == slot->tune_class && !slot->is_close)
        price += work->pace == MUTA_CHORD_A_BEAT ? DOUBLED : DOUBLED_LIGHT;
    return price;
}

/* Where what accompanies is no plain figure another chord would take its sense from it. */
static int64_t price_figures(const struct muta_harmonised_slot *slot)
{
    const int64_t share = slot->struck > 0 ? (int64_t)ITS_OWN * slot->drawn / slot->struck : 0;
    const int64_t line = (int64_t)ITS_OWN * slot->drawn / A_LINE;
    const int64_t own = line > ITS_OWN ? ITS_OWN : share > line ? share : line;
    const bool is_all = slot->drawn == slot->struck && slot->struck >= A_LINE;

    return (is_all ? TUTTI : own) + (slot->is_short ? FLEETING_CHORD : 0);
}

/* Whether a chord leads to another as its dominant, or from the leading tone below it. */
static bool leads_to(const muta_chord *chord, const muta_chord *goal)
{
    const bool is_dominant = chord->kind == MUTA_CHORD_MAJOR || muta_chord_is_dominant(chord->kind);
    const bool is_diminished = chord->kind == MUTA_CHORD_DIMINISHED ||
                               chord->kind == MUTA_CHORD_HALF_DIMINISHED ||
                               chord->kind == MUTA_CHORD_DIMINISHED_SEVENTH;

    return (is_dominant && chord->root == goal->root + 1) ||
           (is_diminished && chord->root == goal->root + 5);
}

/* Whether all tones of a chord are of a key; the leading tone of the minor among them. */
static bool is_of_key(const muta_chord *chord, int32_t tonic, bool is_minor)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->kind);

    for (uint8_t i = 0; i < row->count; i++) {
        const int32_t away = chord->root + row->fifths[i] - tonic;
        if (is_minor ? (away < -4 || away > 2) && away != 5 : away < -1 || away > 5)
            return false;
    }
    return true;
}

/* In the phrase that goes to another key chords are of that; the first of the old one too. */
static int64_t price_abroad(const struct muta_harmonising *work,
                            const struct muta_harmonised_slot *slot,
                            const struct muta_harmonised_option *option)
{
    const muta_passage_chord *const home = work->slots.at[0].old;
    int64_t price = is_of_key(&option->value, slot->old->tonic, slot->old->is_minor) ? 0 : STRANGE;

    if (slot->is_pivot && !is_of_key(&option->value, home->tonic, home->is_minor))
        price += STRANGE;
    return price;
}

/* What is lost where another chord comes for one that led to the next. */
static int64_t price_lost(const struct muta_harmonising *work,
                          const struct muta_harmonised_slot *slot)
{
    const struct muta_harmonised_slot *next = slot + 1;
    const struct muta_harmonised_slot *const end = work->slots.at + work->slots.count;

    while (next < end && next->old == slot->old)
        next++;
    if (next == end || !leads_to(&slot->old->value, &next->old->value))
        return 0;
    return is_of_key(&slot->old->value, slot->old->tonic, slot->old->is_minor) ? DOMINANT : COLOUR;
}

/* Whether, of what the tune has nearest on one side of a slot, a tone of a chord is another form.
 */
static bool contradicts(const struct muta_harmonising *work,
                        const struct muta_harmonised_slot *slot,
                        const struct muta_harmonised_option *option, int direction)
{
    enum {
        NEAR = 8 /* tones */
    };
    const muta_chord_row *const row = muta_chord_row_of(option->value.kind);

    for (uint8_t i = 0; i < row->count; i++) {
        const int32_t tone = option->value.root + row->fifths[i];
        size_t note = direction < 0 ? slot->note : slot->note_end - 1;
        for (size_t far = 0; far < NEAR; far++) {
            note += (size_t)direction; /* before the first: none */
            if (note >= work->tune.count)
                break;
            const int32_t away = muta_pitch_fifths(work->tune.at[note].pitch) - tone;
            if (away % 7 == 0 && away != 0)
                return true;
            if (away == 0)
                break;
        }
    }
    return false;
}

/* What the composer's own ways make of another chord, less as one strays. */
static int64_t price_custom(const struct muta_harmonising *work,
                            const struct muta_harmonised_slot *slot,
                            const struct muta_harmonised_option *option)
{
    int64_t price = price_figures(slot) + price_lost(work, slot);

    if (is_far(&option->value, slot->old->tonic))
        price += FAR;
    if (slot->pedal != MUTA_NO_CLASS && option->bass_class != slot->pedal)
        price += OFF_PEDAL;
    if (slot->note < slot->note_end) {
        const bool before = contradicts(work, slot, option, -1);
        const bool behind = contradicts(work, slot, option, 1);
        /* What leads to a goal of its own may change a tone on one side. */
        if ((before && behind) || ((before || behind) && option->of.goal == MUTA_NO_GOAL))
            price += CONTRADICTED;
    }
    return price * (1000 - work->stray) / 1000;
}

static int64_t in_thousandths(muta_fraction value)
{
    const muta_fraction scaled = muta_fraction_scale(value, 1000);

    return scaled.bottom > 0 ? scaled.top / scaled.bottom : 0;
}

static muta_status add_option(struct muta_harmonising *work, struct muta_harmonised_slot *slot,
                              struct muta_harmonised_option option)
{
    hear_option(slot, &option);
    /* The same root with a seventh more or less is no other chord. */
    if (!option.is_old && option.root_class == muta_fifths_class(slot->old->value.root) &&
        !work->is_anew && !work->alone && !work->enriches && !slot->is_abroad)
        return MUTA_OK;
    if (work->alone)
        option.cost = price_alone(work, slot, &option);
    if (work->is_anew && !option.is_old && option.seventh != MUTA_NO_CLASS &&
        !muta_chord_is_dominant(option.value.kind))
        option.cost = ANEW_SEVENTH;
    if (work->is_anew && !option.is_old && is_far(&option.value, slot->old->tonic))
        option.cost += ANEW_FAR;
    if (!work->alone && !work->is_anew && !option.is_old)
        option.cost += price_custom(work, slot, &option);
    if (slot->is_abroad)
        option.cost += price_abroad(work, slot, &option);
    option.tune = price_tune(work, slot, &option);
    if (!work->alone && !work->is_anew && !option.is_old && option.of.value.root == 0)
        option.cost += BLAND;
    if (!slot->is_abroad && !muta_harmonising_ends_otherwise(work, slot) &&
        option.root_class != muta_fifths_class(slot->old->value.root))
        option.strays = (int32_t)in_thousandths(muta_fraction_subtract(slot->to, slot->from));
    option.cost += option.of.cost + (option.is_old ? 0 : price_inversion(&option)) +
                   price_stray(work, distance(&option, slot->old)) + option.tune;
    struct muta_harmonised_option *const added = MUTA_PUSH(&work->arena, &work->options);
    if (!added)
        return MUTA_E_MEMORY;
    *added = option;
    slot->count++;
    return MUTA_OK;
}

/* The old chord as it stood, and what it does in its key as far as its root tells. */
static muta_status add_old(struct muta_harmonising *work, struct muta_harmonised_slot *slot)
{
    static const muta_function functions[12] = {
        MUTA_FUNCTION_TONIC,    MUTA_FUNCTION_SUBDOMINANT, MUTA_FUNCTION_SUBDOMINANT,
        MUTA_FUNCTION_TONIC,    MUTA_FUNCTION_TONIC,       MUTA_FUNCTION_SUBDOMINANT,
        MUTA_FUNCTION_DOMINANT, MUTA_FUNCTION_DOMINANT,    MUTA_FUNCTION_TONIC,
        MUTA_FUNCTION_TONIC,    MUTA_FUNCTION_DOMINANT,    MUTA_FUNCTION_DOMINANT};
    const muta_passage_chord *const old = slot->old;
    struct muta_harmonised_option option = {.value = old->value, .is_old = true};

    option.of = (muta_palette_chord){.value = old->value, .goal = MUTA_NO_GOAL};
    option.of.value.root -= old->tonic;
    option.of.function = functions[muta_fifths_class(option.of.value.root)];
    return add_option(work, slot, option);
}

/* In each of the positions that it may stand in; those of the sixths are their own. */
static muta_status add_chord(struct muta_harmonising *work, struct muta_harmonised_slot *slot,
                             const muta_palette_chord *chord)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->value.kind);
    const bool is_sixth = chord->value.kind == MUTA_CHORD_ITALIAN ||
                          chord->value.kind == MUTA_CHORD_GERMAN ||
                          chord->value.kind == MUTA_CHORD_FRENCH;
    struct muta_harmonised_option option = {.value = chord->value, .of = *chord};

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
static bool is_outgrown(const struct muta_harmonising *work,
                        const struct muta_harmonised_slot *slot)
{
    for (size_t i = 0; i < slot->count; i++)
        if (!work->options.at[slot->option + i].is_unfit)
            return false;
    return true;
}

/* Where the plain chords do not go with a tune. */
static const char beyond[] = "common-practice";

/* Reads the chords of a palette, in major or minor, once. */
static muta_status read_palette(struct muta_harmonising *work,
                                struct muta_harmonised_palette *palette, const char *name,
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
static muta_status add_palette(struct muta_harmonising *work, struct muta_harmonised_slot *slot,
                               bool goes_beyond)
{
    struct muta_harmonised_palette *const palette =
        &work->palettes[goes_beyond][slot->old->is_minor];

    if (!palette->is_read)
        MUTA_TRY(
            read_palette(work, palette, goes_beyond ? beyond : work->palette, slot->old->is_minor));
    for (size_t i = 0; i < palette->chords.count; i++)
        MUTA_TRY(add_chord(work, slot, &palette->chords.at[i]));
    return MUTA_OK;
}

/* Leaves out the new chords under which a tone of the tune has no name, but where there was no
 * chord and all are such. */
static void drop_unfit(struct muta_harmonising *work, struct muta_harmonised_slot *slot)
{
    struct muta_harmonised_option *const options = &work->options.at[slot->option];
    bool any = false;
    size_t kept = 0;

    for (size_t i = 0; i < slot->count; i++)
        any = any || options[i].is_old || !options[i].is_unfit;
    for (size_t i = 0; i < slot->count; i++)
        if (options[i].is_old || !options[i].is_unfit || !any || work->is_anew)
            options[kept++] = options[i];
    slot->count = kept;
    work->options.count = slot->option + kept;
}

/* The old chord with a seventh or a ninth more, of its key; what falls to the next chord as a
 * dominant does has the seventh of one. */
static muta_status add_richer(struct muta_harmonising *work, struct muta_harmonised_slot *slot)
{
    static const struct {
        muta_chord_kind from;
        muta_chord_kind to;
        int64_t cost;
    } richer[] = {
        {MUTA_CHORD_MAJOR, MUTA_CHORD_MAJOR_SEVENTH, 0},
        {MUTA_CHORD_MAJOR, MUTA_CHORD_MAJOR_NINTH, 300},
        {MUTA_CHORD_MAJOR, MUTA_CHORD_DOMINANT, 0},
        {MUTA_CHORD_MAJOR, MUTA_CHORD_DOMINANT_NINTH, 300},
        {MUTA_CHORD_MINOR, MUTA_CHORD_MINOR_SEVENTH, 0},
        {MUTA_CHORD_MINOR, MUTA_CHORD_MINOR_NINTH, 300},
        {MUTA_CHORD_DIMINISHED, MUTA_CHORD_HALF_DIMINISHED, 0},
        {MUTA_CHORD_DIMINISHED, MUTA_CHORD_DIMINISHED_SEVENTH, 0},
        {MUTA_CHORD_DOMINANT, MUTA_CHORD_DOMINANT_NINTH, 0},
        {MUTA_CHORD_MINOR_SEVENTH, MUTA_CHORD_MINOR_NINTH, 0},
        {MUTA_CHORD_MAJOR_SEVENTH, MUTA_CHORD_MAJOR_NINTH, 0},
    };
    const muta_passage_chord *const old = slot->old;
    const bool has_next = slot + 1 < work->slots.at + work->slots.count;
    const bool falls = has_next && slot[1].old->value.root == old->value.root - 1;

    work->options.at[slot->option].cost += PLAIN;
    for (size_t i = 0; i < MUTA_LENGTH(richer); i++) {
        struct muta_harmonised_option option = {.value = old->value};
        option.value.kind = richer[i].to;
        if (richer[i].from != old->value.kind ||
            !(is_of_key(&option.value, old->tonic, old->is_minor) ||
              (falls && muta_chord_is_dominant(richer[i].to))))
            continue;
        option.of = work->options.at[slot->option].of;
        option.of.value.kind = option.value.kind;
        option.of.cost = richer[i].cost;
        MUTA_TRY(add_option(work, slot, option));
    }
    return MUTA_OK;
}

/* The candidates of a slot. */
static muta_status find_slot_options(struct muta_harmonising *work,
                                     struct muta_harmonised_slot *slot)
{
    if (work->alone)
        return add_palette(work, slot, false);
    MUTA_TRY(add_old(work, slot));
    /* Where the tune rests another may have it: nothing is changed there, unless one goes far. */
    const bool is_silent = slot->note == slot->note_end && work->stray < MUTA_FAR;
    const bool is_over = work->is_anew && is_outgrown(work, slot);
    if (is_silent || (slot->is_fixed && !is_over) ||
        (slot->is_cadence && !is_outgrown(work, slot) && (!work->enriches || slot->is_close)))
        return MUTA_OK;
    if (work->enriches)
        return add_richer(work, slot);
    MUTA_TRY(add_palette(work, slot, false));
    return is_over ? add_palette(work, slot, true) : MUTA_OK;
}

static muta_status find_options(struct muta_harmonising *work)
{
    work->options.count = 0;
    for (size_t i = 0; i < work->slots.count; i++) {
        struct muta_harmonised_slot *const slot = &work->slots.at[i];
        slot->option = work->options.count;
        slot->count = 0;
        MUTA_TRY(find_slot_options(work, slot));
        drop_unfit(work, slot);
    }
    return MUTA_OK;
}

/* The next beat after a slot began; its end when it is no longer. */
static muta_fraction next_beat(const struct muta_harmonising *work,
                               const struct muta_harmonised_slot *slot)
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
static bool goes_with_tune(const struct muta_harmonising *work,
                           const struct muta_harmonised_option *option)
{
    return work->is_anew || work->alone ? option->tune <= (int64_t)ANEW_LEANS * LEANING
                                        : !option->is_unfit;
}

/* Whether one goes so far that the old chord will not do where others may come. */
static bool wants_others(const struct muta_harmonising *work,
                         const struct muta_harmonised_slot *slot)
{
    return work->stray >= MUTA_FAR && !work->is_anew && !slot->is_fixed && !slot->is_cadence;
}

/* Whether a slot is longer than a beat, and no chord goes with all of the tune in it. */
static bool is_too_long(const struct muta_harmonising *work,
                        const struct muta_harmonised_slot *slot)
{
    for (size_t i = 0; i < slot->count; i++) {
        const struct muta_harmonised_option *const option = &work->options.at[slot->option + i];
        if (goes_with_tune(work, option) && !(option->is_old && wants_others(work, slot)))
            return false;
    }
    const muta_fraction beat = next_beat(work, slot);
    return muta_fraction_compare(beat, slot->from) > 0 && muta_fraction_compare(beat, slot->to) < 0;
}

/* A part of a slot: what was laid down for the whole holds, what is heard in it is heard anew. */
static muta_status add_part(struct muta_harmonising *work, const struct muta_harmonised_slot *whole,
                            muta_fraction from, muta_fraction to)
{
    const bool is_first = muta_fraction_compare(from, whole->from) == 0;

    MUTA_TRY(muta_harmonising_add_slot(work, from, to, whole->old, whole->is_split || !is_first));
    struct muta_harmonised_slot *const part = &work->slots.at[work->slots.count - 1];
    part->level = is_first ? whole->level : MUTA_LEVEL_BEAT;
    part->is_abroad = whole->is_abroad;
    part->is_pivot = whole->is_pivot && is_first;
    return MUTA_OK;
}

/* Parts at their first beat the slots that are too long; `parted` when there were such. */
static muta_status part_slots(struct muta_harmonising *work, bool *parted)
{
    const size_t count = work->slots.count;
    struct muta_harmonised_slot *const old =
        muta_arena_take_array(&work->arena, count + 1, sizeof *old);

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
        const struct muta_harmonised_slot *const slot = &old[i];
        const muta_fraction middle = is_too_long(work, slot) ? next_beat(work, slot) : slot->to;
        MUTA_TRY(add_part(work, slot, slot->from, middle));
        if (muta_fraction_compare(middle, slot->to) < 0)
            MUTA_TRY(add_part(work, slot, middle, slot->to));
    }
    muta_harmonising_fix_ends(work);
    return MUTA_OK;
}

/* What may stand in each slot, so that the tune goes with it as far as any chord does. */
muta_status muta_harmonising_find_chords(struct muta_harmonising *work)
{
    bool parted = true;

    for (size_t round = 0; parted; round++) {
        MUTA_TRY(muta_harmonising_hear(work));
        MUTA_TRY(find_options(work));
        parted = false;
        if (round < PARTINGS && work->most == 0)
            MUTA_TRY(part_slots(work, &parted));
    }
    return MUTA_OK;
}
