/* pulse.c: how bars are beaten, and where a value may stand in them. */
#include "notate/pulse.h"

static muta_fraction beats(const muta_pulse *pulse, size_t count)
{
    return muta_fraction_scale(pulse->beat, (int64_t)count);
}

/* A metre without groups, or a bar longer than its metre, is beaten in single beats. */
static void beat_singly(muta_pulse *pulse, muta_fraction length)
{
    pulse->count = 0;
    while (pulse->count < MUTA_LENGTH(pulse->groups) &&
           muta_fraction_compare(beats(pulse, pulse->count), length) < 0)
        pulse->groups[pulse->count++] = 1;
    while (muta_fraction_compare(beats(pulse, pulse->count), length) < 0)
        pulse->beat = muta_fraction_scale(pulse->beat, 2);
}

muta_pulse muta_pulse_of(const muta_metre *metre, muta_fraction length, bool is_end)
{
    muta_pulse pulse = {.start = MUTA_ZERO,
                        .beat = muta_fraction_of(4, metre->beat_type > 0 ? metre->beat_type : 4),
                        .count = metre->group_count};

    for (size_t i = 0; i < metre->group_count; i++)
        pulse.groups[i] = metre->groups[i];
    if (metre->group_count == 0 || !muta_fraction_is_valid(metre->length) ||
        muta_fraction_compare(length, metre->length) > 0)
        beat_singly(&pulse, length);
    else if (is_end)
        pulse.start = muta_fraction_subtract(length, metre->length);
    return pulse;
}

muta_unit muta_pulse_root(const muta_pulse *pulse)
{
    size_t total = 0;

    for (size_t i = 0; i < pulse->count; i++)
        total += pulse->groups[i];
    return (muta_unit){pulse->start, beats(pulse, total), 0, pulse->count};
}

static bool are_equal(const muta_pulse *pulse, const muta_unit *unit)
{
    for (size_t i = 1; i < unit->count; i++)
        if (pulse->groups[unit->first + i] != pulse->groups[unit->first])
            return false;
    return true;
}

/* Parts of equal length, without groups of their own or with `each` of them. */
static size_t divide(const muta_unit *unit, size_t parts, size_t each, muta_unit *into)
{
    const muta_fraction length =
        muta_fraction_divide(unit->length, muta_fraction_of((int64_t)parts, 1));

    for (size_t i = 0; i < parts; i++)
        into[i] =
            (muta_unit){muta_fraction_add(unit->start, muta_fraction_scale(length, (int64_t)i)),
                        length, unit->first + i * each, each};
    return parts;
}

size_t muta_unit_divide(const muta_pulse *pulse, const muta_unit *unit, muta_unit *into)
{
    muta_fraction start = unit->start;

    if (unit->count == 0)
        return divide(unit, 2, 0, into);
    if (unit->count == 1) {
        const size_t beats_inside = pulse->groups[unit->first];
        const size_t parts = beats_inside == 1 || beats_inside % 2 == 0 ? 2 : beats_inside;
        return divide(unit, parts > MUTA_UNIT_PARTS ? 2 : parts, 0, into);
    }
    if (unit->count >= 4 && unit->count % 2 == 0 && are_equal(pulse, unit))
        return divide(unit, 2, unit->count / 2, into);
    for (size_t i = 0; i < unit->count; i++) {
        const muta_fraction length = beats(pulse, pulse->groups[unit->first + i]);
        into[i] = (muta_unit){start, length, unit->first + i, 1};
        start = muta_fraction_add(start, length);
    }
    return unit->count;
}

muta_fraction muta_unit_end(const muta_unit *unit)
{
    return muta_fraction_add(unit->start, unit->length);
}

/* The place of a moment in parts of `size` from `start`; -1 between them. */
static int64_t place_in(muta_fraction moment, muta_fraction start, muta_fraction size)
{
    const muta_fraction place = muta_fraction_divide(muta_fraction_subtract(moment, start), size);

    return place.bottom == 1 && place.top >= 0 ? place.top : -1;
}

/* Short-long-short, or a dotted value from the start or up to the end, in four parts. */
static bool fits_in_four(muta_fraction from, muta_fraction to, muta_fraction start,
                         muta_fraction length)
{
    const muta_fraction part = muta_fraction_divide(length, muta_fraction_of(4, 1));
    const int64_t first = place_in(from, start, part);
    const int64_t last = place_in(to, start, part);

    if (first == 0 &&
        muta_fraction_compare(muta_fraction_subtract(to, start),
                              muta_fraction_multiply(length, muta_fraction_of(7, 8))) == 0)
        return true;
    return (first == 1 && last == 3) || (first == 0 && last == 3) || (first == 1 && last == 4);
}

/* One of four in the time of three: a dotted value, as two in the time of three have. */
static bool is_one_of_four(muta_fraction from, muta_fraction to, const muta_unit *unit)
{
    const muta_fraction part = muta_fraction_divide(unit->length, muta_fraction_of(4, 1));
    const int64_t first = place_in(from, unit->start, part);

    return first >= 0 && place_in(to, unit->start, part) == first + 1;
}

/* Whether a unit is beaten in two below its own parts, and not in three. */
static bool is_simple(const muta_pulse *pulse, const muta_unit *unit)
{
    muta_unit parts[MUTA_UNIT_PARTS];

    return muta_unit_divide(pulse, unit, parts) == 2;
}

/* A value that crosses the parts of a unit and is understood all the same. */
static bool may_cross(const muta_pulse *pulse, const muta_unit *unit, const muta_unit *parts,
                      size_t count, muta_fraction from, muta_fraction to)
{
    const muta_fraction part = parts[0].length;
    const bool simple = is_simple(pulse, &parts[0]);

    /* In a list of equal beats a value may begin or end on any of them. */
    if (count > 3 && unit->count == count && pulse->groups[unit->first] == 1)
        return place_in(from, unit->start, part) >= 0 || place_in(to, unit->start, part) >= 0;
    if (count == 2 && simple)
        return fits_in_four(from, to, unit->start, unit->length);
    if (count != 3 || muta_fraction_compare(part, parts[1].length) != 0 ||
        muta_fraction_compare(part, parts[2].length) != 0)
        return false;
    if (place_in(from, unit->start, part) >= 0 && place_in(to, unit->start, part) >= 0)
        return true;
    const muta_fraction two = muta_fraction_scale(part, 2);
    if (unit->count == 1 && is_one_of_four(from, to, unit))
        return true;
    return simple && (fits_in_four(from, to, unit->start, two) ||
                      fits_in_four(from, to, parts[1].start, two));
}

bool muta_pulse_holds(const muta_pulse *pulse, muta_fraction from, muta_fraction to)
{
    const muta_fraction length = muta_fraction_subtract(to, from);
    const muta_fraction parts = muta_fraction_divide(beats(pulse, 1), length);

    return parts.bottom == 1 && parts.top > 0 && (parts.top & (parts.top - 1)) == 0 &&
           place_in(from, pulse->start, length) >= 0;
}

bool muta_unit_fits(const muta_pulse *pulse, const muta_unit *unit, muta_fraction from,
                    muta_fraction to)
{
    muta_unit parts[MUTA_UNIT_PARTS];

    if (pulse->is_loose || (muta_fraction_compare(from, unit->start) == 0 &&
                            muta_fraction_compare(to, muta_unit_end(unit)) == 0))
        return true;
    const size_t count = muta_unit_divide(pulse, unit, parts);
    for (size_t i = 0; i < count; i++)
        if (muta_fraction_compare(parts[i].start, from) <= 0 &&
            muta_fraction_compare(to, muta_unit_end(&parts[i])) <= 0)
            return muta_unit_fits(pulse, &parts[i], from, to);
    return may_cross(pulse, unit, parts, count, from, to);
}
