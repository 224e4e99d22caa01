/* mode_prices.c: what steps cost when a mode is changed. */
#include "passes/recasting.h"
#include <stdlib.h>

enum {
    NEAR = 3 /* semitones: as far as a step goes */
};

/* Prices, in thousandths. */
enum {
    OTHER_WAY = 2000,      /* the line turns where it did not */
    PARTED = 8000,         /* a tone that was repeated is another */
    STANDS = 14000,        /* two tones that differed are one */
    TWO_NAMES = 1500,      /* and are written as two */
    STANDS_IN = 700,       /* the same in a scale that has not every degree */
    WRONG_WAY = 3000,      /* a tone of the other way */
    AUGMENTED = 7000,      /* an augmented step that was none */
    DIMINISHED = 5000,     /* a diminished third over one chord that was none */
    AUGMENTED_LEAP = 1500, /* which the second degree's chord has by itself */
    PULL = 3500 /* a chromatic tone that was a semitone below its neighbour, and is not */
};

const muta_scale *muta_mode_target(const struct muta_recasting *work, muta_mode mode)
{
    return work->is_given             ? &work->given
           : muta_mode_is_minor(mode) ? &work->from_minor
                                      : &work->from_major;
}

const muta_scale *muta_mode_own_scale(const struct muta_recasting *work, muta_key key)
{
    return muta_mode_is_minor(key.mode) ? &work->minor : &work->major;
}

bool muta_mode_is_own(const muta_scale *scale, muta_interval above)
{
    const int semitones = above.size / MUTA_SEMITONE;

    return muta_scale_tone_at(scale, above.steps, semitones) ||
           (scale->mode == MUTA_MINOR && above.steps >= 5 &&
            muta_scale_tone_at(scale, above.steps, semitones - 1));
}

bool muta_mode_is_there(const struct muta_recasting *work, muta_key key)
{
    return work->is_given && work->is_other &&
           muta_mode_is_minor(key.mode) == (work->given.mode == MUTA_MINOR);
}

static int sign_of(int32_t number)
{
    return (number > 0) - (number < 0);
}

/* Whether a tone of the scale belongs to the way that is gone; others always do. */
static bool goes(const muta_scale_tone *member, int way)
{
    return !member || way == 0 || (way > 0 ? member->goes_up : member->goes_down);
}

static bool is_raised(const muta_scale_tone *member)
{
    return member && member->goes_up && !member->goes_down;
}

/*
 * Which form of a tone of the minor its neighbour asks for: the seventh that goes up to the tonic,
 * or stands with the dominant's other tones, is raised, and the sixth that goes up to it; all
 * others are not.
 */
static int form_beside(const muta_scale_tone *member, const muta_scale_tone *other, bool is_next,
                       bool is_step)
{
    if (!member || !other)
        return 0;
    if (member->degree == 6)
        return (is_step && is_next && other->degree == 0) ||
                       (!is_step && (other->degree == 4 || other->degree == 1))
                   ? 1
                   : -1;
    return member->degree == 5 ? (is_step && is_next && other->degree == 6 ? 1 : -1) : 0;
}

/*
 * In the minor of practice the seventh is raised over the dominant's chords and before the tonic,
 * the sixth on its way up to it; elsewhere both are natural.
 */
int64_t muta_mode_price_practice(const muta_scale_tone *member, bool is_dominant)
{
    if (!member || member->degree < 5)
        return 0;
    if (member->degree == 5)
        return is_raised(member) ? WRONG_WAY / 2 : 0;
    if (is_dominant)
        return is_raised(member) ? 0 : 2 * WRONG_WAY;
    return is_raised(member) ? WRONG_WAY : 0;
}

/* What the next tone asks of the sixth and the seventh, and takes off or puts on their price. */
static int64_t price_practice_ways(bool is_dominant, const muta_scale_tone *from,
                                   const muta_scale_tone *to, int32_t by)
{
    if (!from || !to || by == 0 || abs(by) > NEAR * MUTA_SEMITONE)
        return 0;
    if (by < 0)
        return from->degree == 5 && to->degree == 4 && is_raised(from) ? WRONG_WAY : 0;
    if (from->degree == 6 && to->degree == 0)
        return is_raised(from) ? (is_dominant ? 0 : -WRONG_WAY) : WRONG_WAY;
    if (from->degree == 5 && to->degree == 6 && is_raised(from))
        return is_raised(to) ? -WRONG_WAY / 2 : 0;
    return 0;
}

/* What two tones of the scale cost beside each other, one way or the other. */
static int64_t price_ways(const struct muta_recasting *work, const muta_scale_tone *from,
                          const muta_scale_tone *to, int32_t by)
{
    const int way = sign_of(by);
    const bool is_step = by != 0 && abs(by) <= NEAR * MUTA_SEMITONE;
    int64_t price = 0;

    if (!work->is_given || !work->given.has_signature)
        return (goes(to, way) ? 0 : WRONG_WAY) + (goes(from, way) ? 0 : WRONG_WAY / 2);
    const int asked = form_beside(from, to, true, is_step);
    price += goes(from, asked) ? 0 : asked > 0 ? 2 * WRONG_WAY : WRONG_WAY / 2;
    const int beside = form_beside(to, from, false, is_step);
    return price + (goes(to, beside) ? 0 : beside > 0 ? WRONG_WAY : WRONG_WAY / 2);
}

/* As A flat and F sharp: two notes that sound a whole tone apart and are written as a third. */
static bool is_diminished_third(muta_pitch a, muta_pitch b)
{
    return abs(a.place - b.place) == 2 &&
           abs(muta_pitch_sound(a) - muta_pitch_sound(b)) == 2 * MUTA_SEMITONE;
}

/* What neighbours were to each other, and are no more. */
static int64_t price_change(const struct muta_recasting *work, const struct muta_mode_site *before,
                            const muta_pitch *is_from, const struct muta_mode_site *here,
                            const muta_pitch *is_to)
{
    const int32_t was = muta_pitch_sound(here->tone->pitch) - muta_pitch_sound(before->tone->pitch);
    const int32_t is = muta_pitch_sound(*is_to) - muta_pitch_sound(*is_from);
    int64_t price = sign_of(is) == sign_of(was) ? 0
                    : sign_of(was) == 0         ? PARTED
                    : sign_of(is) == 0          ? (work->is_other ? STANDS : STANDS_IN)
                                                : OTHER_WAY;

    if (!work->is_other)
        return price;
    if (is == 0 && was != 0 && is_from->place != is_to->place)
        price += TWO_NAMES;
    if (muta_pitch_is_augmented(*is_from, *is_to) &&
        !muta_pitch_is_augmented(before->tone->pitch, here->tone->pitch))
        price += abs(is_to->place - is_from->place) == 1 ? AUGMENTED : AUGMENTED_LEAP;
    if (before->chord == here->chord && is_diminished_third(*is_from, *is_to) &&
        !is_diminished_third(before->tone->pitch, here->tone->pitch))
        price += DIMINISHED;
    if ((was > 0 ? before : here)->is_foreign && abs(was) == MUTA_SEMITONE && is != was)
        price += PULL;
    return price;
}

int64_t muta_mode_price_step(const struct muta_recasting *work, const struct muta_mode_site *before,
                             const struct muta_mode_form *from, const struct muta_mode_site *here,
                             const struct muta_mode_form *to)
{
    const int32_t by = muta_pitch_sound(to->pitch) - muta_pitch_sound(from->pitch);
    const int64_t price = price_change(work, before, &from->pitch, here, &to->pitch);

    if (!work->is_other)
        return price + price_ways(work, from->member, to->member, by);
    return price + (before->is_practice
                        ? price_practice_ways(before->is_dominant, from->member, to->member, by)
                        : 0);
}
