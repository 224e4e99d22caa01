/*
 * value.c: from how long something lasts to what is written: values cut where the beat must be
 * seen, and tuplets, one in another where the time demands it.
 */
#include "notate/pulse.h"
#include <stdlib.h>
#include <string.h>

enum {
    SMALLEST = -8, /* a 1024th */
    LARGEST = 5,   /* a maxima */
    GROUPS = 64,
    DEEPEST = 24,
    HOPELESS = 1000000,
    FEW = 32,   /* segments of a bar, as a rule */
    MANY = 3,   /* parts of a unit; more are not all tried */
    WIDEST = 31 /* notes of a tuplet; nobody reads more */
};

/* Plain, dotted and doubly dotted values are 1, 3 and 7 times a power of two. */
bool muta_value_of(muta_fraction quarters, int8_t *type, uint8_t *dots)
{
    if (quarters.top <= 0 || quarters.bottom <= 0 || (quarters.bottom & (quarters.bottom - 1)) != 0)
        return false;
    const int twos = __builtin_ctzll((unsigned long long)quarters.top);
    const int64_t odd = quarters.top >> twos;
    const int dotted = odd == 1 ? 0 : odd == 3 ? 1 : 2;
    const int exponent = twos - __builtin_ctzll((unsigned long long)quarters.bottom) + dotted;

    if ((dotted == 2 && odd != 7) || exponent < SMALLEST || exponent > LARGEST)
        return false;
    *type = (int8_t)exponent;
    *dots = (uint8_t)dotted;
    return true;
}

/* What is written at one level: outside all tuplets, or inside one, whose time is stretched. */
struct level {
    muta_arena *arena;
    muta_items *items;
    const muta_pulse *pulse;
    const muta_segments *segments;
    muta_fraction shift; /* inner time = (outer - shift) * stretch */
    muta_fraction stretch;
    const struct times *times; /* by segment, in inner time */
    muta_tuplet tuplets[MUTA_TUPLET_LEVELS];
    size_t depth; /* of tuplets */
};

/* Where a segment lies in the time of a level. */
struct times {
    muta_fraction from;
    muta_fraction to;
    bool is_odd; /* one of its ends needs a tuplet */
};

/* A stretch that is written as a tuplet. */
struct group {
    muta_fraction from;
    muta_fraction length;
    int64_t actual;
    int64_t normal;
};

struct groups {
    size_t count;
    struct group at[GROUPS];
};

static muta_fraction inner(const struct level *level, muta_fraction time)
{
    return muta_fraction_multiply(muta_fraction_subtract(time, level->shift), level->stretch);
}

static muta_fraction outer(const struct level *level, muta_fraction time)
{
    if (level->depth == 0)
        return time;
    return muta_fraction_add(muta_fraction_divide(time, level->stretch), level->shift);
}

static muta_fraction earlier(muta_fraction a, muta_fraction b)
{
    return muta_fraction_compare(a, b) < 0 ? a : b;
}

static int64_t odd_part(int64_t number)
{
    while (number != 0 && number % 2 == 0)
        number /= 2;
    return number;
}

/* ---- values outside tuplets ---- */

static muta_status put(struct level *level, size_t segment, muta_fraction from, muta_fraction to)
{
    const muta_segment *const of = &level->segments->at[segment];
    muta_item *const item = MUTA_PUSH(level->arena, level->items);

    if (!item)
        return MUTA_E_MEMORY;
    item->segment = (uint32_t)segment;
    item->from = outer(level, from);
    item->to = outer(level, to);
    item->begins = muta_fraction_compare(item->from, of->from) == 0;
    item->ends = muta_fraction_compare(item->to, of->to) == 0;
    memcpy(item->tuplets, level->tuplets, sizeof item->tuplets);
    item->is_kept = of->is_kept && level->depth == 0;
    if (item->is_kept) {
        item->type = of->type;
        item->dots = of->dots;
        return MUTA_OK;
    }
    return of->is_gap || muta_value_of(muta_fraction_subtract(to, from), &item->type, &item->dots)
               ? MUTA_OK
               : MUTA_E_DATA;
}

/* On the grid of 1024ths. */
static bool is_plain(muta_fraction time)
{
    return time.bottom > 0 && 256 % time.bottom == 0;
}

/* The smallest unit that holds [from, to) and its parts. */
static size_t holding_unit(const muta_pulse *pulse, muta_fraction from, muta_fraction to,
                           muta_unit *unit, muta_unit *parts)
{
    *unit = muta_pulse_root(pulse);
    for (size_t depth = 0; depth < DEEPEST; depth++) {
        const size_t count = muta_unit_divide(pulse, unit, parts);
        size_t i = 0;
        while (i < count && !(muta_fraction_compare(parts[i].start, from) <= 0 &&
                              muta_fraction_compare(to, muta_unit_end(&parts[i])) <= 0))
            i++;
        if (i == count)
            return count;
        *unit = parts[i];
    }
    return 0;
}

static size_t best_cut(const muta_pulse *pulse, muta_fraction from, muta_fraction to, size_t depth,
                       muta_fraction *cut);

/* Among many parts: as far as one value goes, or else up to the next part. */
static size_t greedy_cut(const muta_pulse *pulse, muta_fraction from, muta_fraction to,
                         const muta_unit *parts, size_t count, size_t depth, muta_fraction *cut)
{
    const muta_unit root = muta_pulse_root(pulse);
    muta_fraction ignored;
    int8_t type;
    uint8_t dots;
    size_t first = 1;
    size_t last;

    while (first < count && muta_fraction_compare(parts[first].start, from) <= 0)
        first++;
    for (last = count - 1; last > first; last--)
        if (muta_fraction_compare(parts[last].start, to) < 0 &&
            muta_value_of(muta_fraction_subtract(parts[last].start, from), &type, &dots) &&
            muta_unit_fits(pulse, &root, from, parts[last].start))
            break;
    if (first >= count || depth >= GROUPS)
        return SIZE_MAX;
    *cut = parts[last].start;
    const size_t before = best_cut(pulse, from, *cut, depth + 1, &ignored);
    const size_t behind = best_cut(pulse, *cut, to, depth + 1, &ignored);
    return before < 100 && behind < 100 ? before + behind : SIZE_MAX;
}

/*
 * Where to cut a note that does not fit: the number of values that it takes, and the first cut.
 * Values are few, so all cuts are tried.
 */
static size_t best_cut(const muta_pulse *pulse, muta_fraction from, muta_fraction to, size_t depth,
                       muta_fraction *cut)
{
    const muta_unit root = muta_pulse_root(pulse);
    muta_unit parts[MUTA_UNIT_PARTS];
    muta_unit unit;
    int8_t type;
    uint8_t dots;
    size_t best = SIZE_MAX;

    /* Odd moments belong into tuplets, and finer ones are not written. */
    if (!is_plain(from) || !is_plain(to))
        return SIZE_MAX;
    if (muta_value_of(muta_fraction_subtract(to, from), &type, &dots) &&
        (muta_pulse_holds(pulse, from, to) || muta_unit_fits(pulse, &root, from, to))) {
        *cut = to;
        return 1;
    }
    const size_t count = holding_unit(pulse, from, to, &unit, parts);
    if (count > MANY)
        return greedy_cut(pulse, from, to, parts, count, depth, cut);
    for (size_t i = 1; i < count && depth < DEEPEST; i++) {
        muta_fraction ignored;
        if (muta_fraction_compare(parts[i].start, from) <= 0 ||
            muta_fraction_compare(to, parts[i].start) <= 0)
            continue;
        const size_t before = best_cut(pulse, from, parts[i].start, depth + 1, &ignored);
        const size_t behind = best_cut(pulse, parts[i].start, to, depth + 1, &ignored);
        /* From a strong place the longer value comes first, else the shorter. */
        const bool better = muta_fraction_compare(from, unit.start) == 0 ? before + behind <= best
                                                                         : before + behind < best;
        if (before < 100 && behind < 100 && better) {
            best = before + behind;
            *cut = parts[i].start;
        }
    }
    return best;
}

static muta_status put_note(struct level *level, size_t segment, muta_fraction from,
                            muta_fraction to)
{
    while (muta_fraction_compare(from, to) < 0) {
        muta_fraction cut = to;
        muta_fraction ends;
        /* The first cut may itself need cuts before it. */
        do {
            ends = cut;
            if (best_cut(level->pulse, from, ends, 0, &cut) == SIZE_MAX)
                return MUTA_E_DATA;
        } while (muta_fraction_compare(cut, ends) != 0);
        MUTA_TRY(put(level, segment, from, ends));
        from = ends;
    }
    return MUTA_OK;
}

/* Rests show every unit that a note might hide; two thirds of a beat in three are one rest. */
static muta_status put_rest(struct level *level, size_t segment, const muta_unit *unit,
                            muta_fraction from, muta_fraction to, size_t depth)
{
    muta_unit parts[MUTA_UNIT_PARTS];
    const muta_fraction end = muta_unit_end(unit);
    int8_t type;
    uint8_t dots;

    from = muta_fraction_max(from, unit->start);
    to = earlier(to, end);
    if (muta_fraction_compare(from, to) >= 0)
        return MUTA_OK;
    if (muta_fraction_compare(from, unit->start) == 0 && muta_fraction_compare(to, end) == 0 &&
        muta_value_of(unit->length, &type, &dots) &&
        (dots == 0 || unit->count == 1 || level->pulse->groups[unit->first] == 3))
        return put(level, segment, from, to);
    if (depth == DEEPEST)
        return MUTA_E_DATA;
    const size_t count = muta_unit_divide(level->pulse, unit, parts);
    const bool in_three = unit->count == 1 && count == 3;
    if (in_three && muta_fraction_compare(from, unit->start) == 0 &&
        muta_fraction_compare(parts[2].start, to) <= 0 &&
        muta_value_of(muta_fraction_subtract(parts[2].start, from), &type, &dots)) {
        MUTA_TRY(put(level, segment, from, parts[2].start));
        from = parts[2].start;
    }
    for (size_t i = 0; i < count; i++)
        MUTA_TRY(put_rest(level, segment, &parts[i], from, to, depth + 1));
    return MUTA_OK;
}

static muta_status put_segment(struct level *level, size_t segment, muta_fraction from,
                               muta_fraction to)
{
    const muta_segment *const of = &level->segments->at[segment];
    const muta_unit root = muta_pulse_root(level->pulse);

    if (muta_fraction_compare(from, to) >= 0)
        return MUTA_OK;
    if (of->is_gap || (of->is_kept && level->depth == 0))
        return put(level, segment, from, to);
    return of->what == MUTA_SILENCE ? put_rest(level, segment, &root, from, to, 0)
                                    : put_note(level, segment, from, to);
}

/* ---- tuplets ---- */

static bool is_odd(muta_fraction time)
{
    return odd_part(time.bottom) > 1;
}

/* Whether a segment is inside [from, to), and where within it. */
static bool clip(const struct level *level, size_t segment, muta_fraction *from, muta_fraction *to)
{
    const struct times *const times = &level->times[segment];

    if (level->segments->at[segment].is_kept && level->depth == 0)
        return false;
    if (muta_fraction_compare(*from, times->from) < 0)
        *from = times->from;
    if (muta_fraction_compare(times->to, *to) < 0)
        *to = times->to;
    return muta_fraction_compare(*from, *to) < 0;
}

/* The finest odd division that the moments inside a stretch need; 1 when none does. */
static int64_t odd_division(const struct level *level, muta_fraction start, muta_fraction length)
{
    int64_t division = 1;

    for (size_t i = 0; i < level->segments->count; i++) {
        muta_fraction from = start;
        muta_fraction to = muta_fraction_add(start, length);
        if (!level->times[i].is_odd || !clip(level, i, &from, &to))
            continue;
        const muta_fraction ends[] = {muta_fraction_subtract(from, start),
                                      muta_fraction_subtract(to, start)};
        for (size_t j = 0; j < 2; j++) {
            if (!is_odd(ends[j]))
                continue;
            const muta_fraction place = muta_fraction_divide(ends[j], length);
            if (muta_fraction_is_valid(place))
                division = muta_common_multiple(division, odd_part(place.bottom));
        }
    }
    return division;
}

/* The pulse inside a tuplet of `actual` parts, from 0. */
static muta_pulse pulse_inside(const struct group *group)
{
    muta_pulse pulse = {.start = MUTA_ZERO, .count = 1};

    pulse.beat = muta_fraction_divide(group->length, muta_fraction_of(group->normal, 1));
    pulse.groups[0] = (uint8_t)group->actual;
    if (group->actual == 6 || group->actual == 9) {
        pulse.count = (size_t)group->actual / 3;
        pulse.groups[0] = pulse.groups[1] = pulse.groups[2] = 3;
    }
    pulse.is_loose = group->actual != 3 && pulse.count == 1;
    return pulse;
}

static muta_status lay(struct level *level, muta_fraction from, muta_fraction to);

/* A tuplet begins and ends with what is written of it; gaps are not. */
static void mark_ends(struct level *level, size_t first)
{
    size_t last = level->items->count;

    while (first < last && level->segments->at[level->items->at[first].segment].is_gap)
        first++;
    while (last > first && level->segments->at[level->items->at[last - 1].segment].is_gap)
        last--;
    if (first == last)
        return;
    level->items->at[first].tuplets[level->depth].begins = true;
    level->items->at[last - 1].tuplets[level->depth].ends = true;
}

/* Writes what a tuplet holds, one level deeper. */
static muta_status lay_group(struct level *level, const struct group *group)
{
    const muta_pulse pulse = pulse_inside(group);
    struct level deeper = *level;
    int8_t type;
    uint8_t dots;

    if (level->depth == MUTA_TUPLET_LEVELS || group->actual > WIDEST ||
        !muta_value_of(pulse.beat, &type, &dots) || dots > 0)
        return MUTA_E_DATA;
    const size_t first = level->items->count;
    deeper.pulse = &pulse;
    deeper.shift = outer(level, group->from);
    deeper.stretch =
        muta_fraction_multiply(level->stretch, muta_fraction_of(group->actual, group->normal));
    deeper.depth++;
    deeper.tuplets[level->depth] = (muta_tuplet){
        .actual = (uint16_t)group->actual, .normal = (uint16_t)group->normal, .type = type};
    MUTA_TRY(
        lay(&deeper, MUTA_ZERO,
            muta_fraction_multiply(group->length, muta_fraction_of(group->actual, group->normal))));
    mark_ends(level, first);
    return MUTA_OK;
}

/* How a unit is divided by an odd number: in the time of the next smaller usual division. */
static struct group group_of(const muta_pulse *pulse, const muta_unit *unit, int64_t actual)
{
    muta_unit parts[MUTA_UNIT_PARTS];
    const size_t count = muta_unit_divide(pulse, unit, parts);
    struct group group = {unit->start, unit->length, actual, count == 3 ? 3 : 2};

    while (group.normal * 2 <= actual)
        group.normal *= 2;
    return group;
}

/* Writes a group on trial; how many items it takes, and tuplets inside it; SIZE_MAX when it cannot
 * be written so. */
static size_t try_group(struct level *level, const struct group *group)
{
    const size_t before = level->items->count;
    const muta_status status = lay_group(level, group);
    size_t taken = level->items->count - before;

    for (size_t i = before; level->depth + 1 < MUTA_TUPLET_LEVELS && i < level->items->count; i++)
        taken += level->items->at[i].tuplets[level->depth + 1].begins;

    level->items->count = before;
    return status == MUTA_OK ? taken : SIZE_MAX;
}

static size_t count_inside(const struct level *level, const muta_unit *unit)
{
    size_t count = 0;

    for (size_t i = 0; i < level->segments->count; i++) {
        muta_fraction from = unit->start;
        muta_fraction to = muta_unit_end(unit);
        count += clip(level, i, &from, &to);
    }
    return count;
}

/* Six of equal length are six in the time of four, not three halved. */
static bool holds_six(const struct level *level, const muta_unit *unit)
{
    const muta_fraction sixth = muta_fraction_divide(unit->length, muta_fraction_of(6, 1));
    size_t count = 0;

    for (size_t i = 0; i < level->segments->count; i++) {
        muta_fraction from = unit->start;
        muta_fraction to = muta_unit_end(unit);
        if (!clip(level, i, &from, &to))
            continue;
        if (muta_fraction_compare(muta_fraction_subtract(to, from), sixth) != 0)
            return false;
        count++;
    }
    return count == 6;
}

/* Whether a segment with an odd end lies across a moment. */
static bool crosses(const struct level *level, muta_fraction moment)
{
    for (size_t i = 0; i < level->segments->count; i++)
        if (level->times[i].is_odd && muta_fraction_compare(level->times[i].from, moment) < 0 &&
            muta_fraction_compare(moment, level->times[i].to) < 0)
            return true;
    return false;
}

static bool crosses_parts(const struct level *level, const muta_unit *parts, size_t count)
{
    for (size_t i = 1; i < count; i++)
        if (crosses(level, parts[i].start))
            return true;
    return false;
}

/*
 * The parts from the first on that odd segments join, as one unit: of three beats two may share a
 * tuplet. Returns how many they are.
 */
static size_t join_parts(const struct level *level, const muta_unit *parts, size_t count,
                         muta_unit *joined)
{
    size_t taken = 1;

    *joined = parts[0];
    while (taken < count && parts[0].count <= 1 && crosses(level, parts[taken].start)) {
        joined->length = muta_fraction_add(joined->length, parts[taken].length);
        joined->count += parts[taken].count;
        taken++;
    }
    return taken;
}

/* How one unit may be gathered. */
struct choice {
    struct group group; /* `actual` 0: not as one */
    size_t cost;
};

/* Whether every moment inside a unit falls between `actual` equal parts of it. */
static bool lies_on_parts(const struct level *level, const muta_unit *unit, int64_t actual)
{
    const muta_fraction part = muta_fraction_divide(unit->length, muta_fraction_of(actual, 1));

    for (size_t i = 0; i < level->segments->count; i++) {
        muta_fraction from = unit->start;
        muta_fraction to = muta_unit_end(unit);
        if (clip(level, i, &from, &to) &&
            muta_fraction_divide(muta_fraction_subtract(from, unit->start), part).bottom != 1)
            return false;
    }
    return true;
}

/* A tuplet over several beats hides them: less so where its values are plain parts of it. */
static size_t cost_of(const struct level *level, const muta_unit *unit, int64_t actual,
                      size_t taken)
{
    const size_t hidden = unit->count > 1 ? unit->count : 0;

    return taken * 4 + (actual > 9 ? 3 : 1) + hidden * (lies_on_parts(level, unit, actual) ? 1 : 2);
}

/* As one tuplet, by an odd number or one of its divisors with further tuplets inside. */
static struct choice gather_whole(struct level *level, const muta_unit *unit, int64_t division,
                                  bool in_three)
{
    struct choice best = {{.actual = 0}, HOPELESS};

    for (int64_t actual = 3; actual <= division && actual <= WIDEST; actual += 2) {
        if (division % actual != 0 || (in_three && actual == 3))
            continue;
        struct group group = group_of(level->pulse, unit, actual);
        if (actual == 3 && holds_six(level, unit)) {
            group.actual *= 2;
            group.normal *= 2;
        }
        const size_t taken = try_group(level, &group);
        if (taken == SIZE_MAX)
            continue;
        const size_t cost = cost_of(level, unit, actual, taken);
        if (cost < best.cost)
            best = (struct choice){group, cost};
    }
    return best;
}

/*
 * Finds how to gather the moments of a unit into tuplets: as one, or part by part. Fewer values are
 * better, then shorter tuplets. Returns what it costs.
 */
static size_t gather(struct level *level, const muta_unit *unit, size_t depth,
                     struct groups *groups)
{
    const int64_t division = odd_division(level, unit->start, unit->length);
    const size_t before = groups->count;
    muta_unit parts[MUTA_UNIT_PARTS];
    struct choice best = {{.actual = 0}, HOPELESS};
    size_t least = 0;
    size_t cost;

    if (division == 1)
        return count_inside(level, unit) * 4;
    if (depth == DEEPEST / 2 || groups->count == GROUPS)
        return HOPELESS;
    const size_t count = muta_unit_divide(level->pulse, unit, parts);
    /* What no odd segment crosses is best gathered part by part. */
    if ((count == 2 || count == 3) && (unit->count == 1 || crosses_parts(level, parts, count)))
        best = gather_whole(level, unit, division, count == 3);
    for (size_t i = 0; i < count && least < best.cost; i++)
        least += count_inside(level, &parts[i]) * 4;
    cost = least < best.cost ? 0 : HOPELESS;
    for (size_t i = 0; i < count && cost < best.cost;) {
        muta_unit joined;
        const size_t taken = join_parts(level, &parts[i], count - i, &joined);
        /* All of them joined are this unit once more. */
        cost += gather(level, taken < count ? &joined : &parts[i], depth + 1, groups);
        i += taken < count ? taken : 1;
    }
    if (cost <= best.cost && cost < HOPELESS)
        return cost;
    groups->count = before;
    if (best.group.actual != 0)
        groups->at[groups->count++] = best.group;
    return best.cost;
}

/*
 * Where no unit of the metre holds them, odd moments make up a tuplet from the plain moment before
 * them to the one behind.
 */
static void gather_runs(const struct level *level, struct groups *groups)
{
    muta_fraction plain = MUTA_ZERO;
    bool odd = false;

    groups->count = 0;
    for (size_t i = 0; i < level->segments->count && groups->count < GROUPS; i++) {
        const muta_fraction end = level->times[i].to;
        if (is_odd(end)) {
            odd = true;
            continue;
        }
        const muta_fraction length = muta_fraction_subtract(end, plain);
        const bool gathers = odd && length.top > 0;
        const int64_t actual = gathers ? odd_division(level, plain, length) : 1;
        struct group group = {plain, length, actual, gathers ? odd_part(length.top) : 1};
        while (group.normal * 2 <= actual)
            group.normal *= 2;
        if (actual > 1)
            groups->at[groups->count++] = group;
        plain = end;
        odd = false;
    }
}

/* Writes what lies outside tuplets. */
static muta_status lay_plain(struct level *level, muta_fraction from, muta_fraction to)
{
    for (size_t i = 0; i < level->segments->count; i++) {
        const struct times *const of = &level->times[i];
        if (muta_fraction_compare(of->to, from) <= 0)
            continue;
        if (muta_fraction_compare(to, of->from) <= 0)
            break;
        MUTA_TRY(put_segment(level, i, muta_fraction_max(from, of->from), earlier(to, of->to)));
    }
    return MUTA_OK;
}

static muta_status lay_groups(struct level *level, const struct groups *groups, muta_fraction from,
                              muta_fraction to)
{
    for (size_t i = 0; i < groups->count; i++) {
        MUTA_TRY(lay_plain(level, from, groups->at[i].from));
        MUTA_TRY(lay_group(level, &groups->at[i]));
        from = muta_fraction_add(groups->at[i].from, groups->at[i].length);
    }
    return lay_plain(level, from, to);
}

/* Reckons all segments in the time of a level, once. */
static bool find_times(struct level *level, struct times *times)
{
    const size_t count = level->segments->count;
    bool odd = false;

    level->times = times;
    for (size_t i = 0; i < count; i++) {
        const muta_segment *const of = &level->segments->at[i];
        times[i].from = level->depth == 0 ? of->from : inner(level, of->from);
        times[i].to = level->depth == 0 ? of->to : inner(level, of->to);
        times[i].is_odd = is_odd(times[i].from) || is_odd(times[i].to);
        odd = odd || (times[i].is_odd && !(of->is_kept && level->depth == 0));
    }
    return odd;
}

/* With tuplets: by units of the metre, or where that fails from plain moment to plain moment. */
static muta_status lay_odd(struct level *level, muta_fraction from, muta_fraction to)
{
    struct groups groups = {.count = 0};
    const muta_unit root = muta_pulse_root(level->pulse);
    const size_t before = level->items->count;
    muta_status status = MUTA_E_DATA;

    if (gather(level, &root, 0, &groups) < HOPELESS)
        status = lay_groups(level, &groups, from, to);
    if (status != MUTA_E_DATA)
        return status;
    level->items->count = before;
    gather_runs(level, &groups);
    return lay_groups(level, &groups, from, to);
}

/* Writes the stretch [from, to) of the level's own time. */
static muta_status lay(struct level *level, muta_fraction from, muta_fraction to)
{
    struct times few[FEW];
    struct times *const times =
        level->segments->count <= FEW
            ? few
            : muta_arena_take_array(level->arena, level->segments->count, sizeof *times);

    if (!times)
        return MUTA_E_MEMORY;
    const bool odd = find_times(level, times);
    const muta_status done = odd ? lay_odd(level, from, to) : lay_plain(level, from, to);
    level->times = NULL;
    return done;
}

/* A full bar that is silent from end to end has one rest, whatever its metre. */
static bool is_silent_bar(const muta_pulse *pulse, const muta_segments *segments)
{
    const muta_unit root = muta_pulse_root(pulse);

    const bool is_full =
        root.start.top == 0 && muta_fraction_compare(root.length, segments->at[0].to) == 0;

    /* So has a shorter one that no value fills. */
    return segments->count == 1 && segments->at[0].what == MUTA_SILENCE &&
           !segments->at[0].is_gap && (is_full || is_odd(segments->at[0].to));
}

muta_status muta_notate_values(muta_arena *arena, const muta_pulse *pulse,
                               const muta_segments *segments, muta_items *items)
{
    struct level level = {.arena = arena,
                          .items = items,
                          .pulse = pulse,
                          .segments = segments,
                          .shift = MUTA_ZERO,
                          .stretch = muta_fraction_of(1, 1)};

    if (segments->count == 0)
        return MUTA_OK;
    if (is_silent_bar(pulse, segments)) {
        muta_item *const item = MUTA_PUSH(arena, items);
        if (!item)
            return MUTA_E_MEMORY;
        *item = (muta_item){
            .from = MUTA_ZERO, .to = segments->at[0].to, .is_whole_bar = true, .type = 2};
        return MUTA_OK;
    }
    return lay(&level, MUTA_ZERO, segments->at[segments->count - 1].to);
}
