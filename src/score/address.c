/* address.c: the words in which a person points at a stretch of a score. */
#include "score/region.h"
#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    WORD = 256,
    LISTING = 900
};

struct parse {
    const muta_score *score;
    muta_region *region;
    muta_diags *diags;
    const char *at;
};

static muta_status bad_syntax(const struct parse *parse, const char *what)
{
    muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "%s at \"%.40s\"; write an address as Clarinet:5-8, Piano/2:3.2-4.1 or *", what,
                  parse->at);
    return MUTA_E_USAGE;
}

/* Appends to a listing that may be cut. */
static void list(char *text, size_t room, const char *a, const char *b, const char *c)
{
    const size_t used = strlen(text);

    if (used + 1 < room)
        (void)snprintf(text + used, room - used, "%s%s%s", a, b, c);
}

/* What there is: each part with its staves and the first and last bar. */
static muta_status not_there(const struct parse *parse, const char *why, const char *what)
{
    char parts[LISTING] = "";
    char number[32];
    const muta_score *const score = parse->score;

    for (size_t i = 0; i < muta_score_part_count(score) && i < 40; i++) {
        const size_t staves = muta_score_staff_count(score, i);
        (void)snprintf(number, sizeof number, "%s%zu \"", i ? ", " : "", i + 1);
        list(parts, sizeof parts, number, muta_score_part_name(score, i), "\"");
        if (staves > 1) {
            (void)snprintf(number, sizeof number, "/1-%zu", staves);
            list(parts, sizeof parts, number, "", "");
        }
    }
    muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "there is no %s \"%s\"; there are %s, bars %s to %s (#1 to #%zu)", why, what,
                  parts, score->bars[0].number, score->bars[score->bar_count - 1].number,
                  score->bar_count);
    return MUTA_E_DATA;
}

/* Reads a name up to one of `ends`, or in quotes. */
static muta_status read_word(struct parse *parse, const char *ends, char *word, bool *quoted)
{
    const char quote = *parse->at;
    size_t length;

    *quoted = quote == '"' || quote == '\'';
    if (*quoted) {
        const char *const end = strchr(parse->at + 1, quote);
        if (!end)
            return bad_syntax(parse, "a quotation mark is not closed");
        length = (size_t)(end - parse->at - 1);
        parse->at++;
    } else {
        length = strcspn(parse->at, ends);
    }
    if (length == 0 || length >= WORD)
        return bad_syntax(parse, "a name is missing or too long");
    memcpy(word, parse->at, length);
    word[length] = '\0';
    parse->at += length + *quoted;
    for (size_t end = length; !*quoted && end > 0 && word[end - 1] == ' '; end--)
        word[end - 1] = '\0';
    return MUTA_OK;
}

/* Parts of exactly one name are told by their numbers. */
static muta_status say_which_part(const struct parse *parse, const char *word)
{
    char numbers[LISTING] = "";
    char number[32];

    for (size_t i = 0; i < parse->score->part_count; i++)
        if (muta_text_alike(parse->score->parts[i].name, word)) {
            (void)snprintf(number, sizeof number, "%s%zu", numbers[0] ? ", " : "", i + 1);
            list(numbers, sizeof numbers, number, "", "");
        }
    muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "more than one part is called \"%s\"; say which by its number: %s", word,
                  numbers);
    return MUTA_E_DATA;
}

/* The part of this number, id, name or unambiguous beginning of a name. */
static muta_status find_part(const struct parse *parse, const char *word, bool quoted,
                             uint32_t *part)
{
    const muta_score *const score = parse->score;
    size_t found = score->part_count;
    size_t beginnings = 0;
    size_t exact = 0;
    int64_t number;
    const char *const end = quoted ? NULL : muta_text_count(word, &number);

    if (end && !*end) {
        if (number < 1 || (uint64_t)number > score->part_count)
            return not_there(parse, "part", word);
        *part = (uint32_t)number - 1;
        return MUTA_OK;
    }
    for (size_t i = 0; i < score->part_count; i++) {
        if (quoted && strcmp(score->parts[i].id, word) == 0) {
            *part = (uint32_t)i;
            return MUTA_OK;
        }
        if (muta_text_alike(score->parts[i].name, word)) {
            found = i;
            exact++;
        } else if (exact == 0 && muta_text_begins(score->parts[i].name, word)) {
            found = i;
            beginnings++;
        }
    }
    if (exact > 1)
        return say_which_part(parse, word);
    if (exact == 1)
        beginnings = 1;
    if (beginnings > 1)
        return not_there(parse, "one part that alone begins with", word);
    if (beginnings == 0)
        return not_there(parse, "part", word);
    *part = (uint32_t)found;
    return MUTA_OK;
}

/* Reads `/STAFF` and `/VOICE` into the range. */
static muta_status read_lines(struct parse *parse, const muta_part *part, muta_range *range)
{
    char word[64];
    int64_t number;

    if (*parse->at != '/')
        return MUTA_OK;
    const char *end = muta_text_count(parse->at + 1, &number);
    if (!end)
        return bad_syntax(parse, "a staff number is missing");
    parse->at = end;
    (void)snprintf(word, sizeof word, "%lld", (long long)number);
    if (number < 1 || (part && (uint64_t)number > part->staves) || number > UINT8_MAX)
        return not_there(parse, "staff", word);
    range->staff = (uint8_t)number;
    if (*parse->at != '/')
        return MUTA_OK;
    end = muta_text_count(parse->at + 1, &number);
    if (!end)
        return bad_syntax(parse, "a voice number is missing");
    parse->at = end;
    (void)snprintf(word, sizeof word, "%lld on staff %d", (long long)number, range->staff);
    if (!part ||
        (range->voice = muta_part_voice_at(part, range->staff, (size_t)number)) == MUTA_NO_NOTE)
        return not_there(parse, "voice", word);
    range->staff = MUTA_ANY; /* a voice is taken whole, also where it crosses to another staff */
    return MUTA_OK;
}

static bool is_pickup(const muta_score *score)
{
    const muta_bar *const first = score->bars;

    return first->implicit || muta_fraction_compare(first->length, first->metre.length) < 0;
}

static muta_status say_ambiguous(const struct parse *parse, const char *word)
{
    char places[LISTING] = "";
    char place[32];

    for (size_t i = 0; i < parse->score->bar_count; i++)
        if (strcmp(parse->score->bars[i].number, word) == 0) {
            (void)snprintf(place, sizeof place, "%s#%zu", places[0] ? ", " : "", i + 1);
            list(places, sizeof places, place, "", "");
        }
    muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "more than one bar is numbered %s; say which: %s", word, places);
    return MUTA_E_DATA;
}

/* A bar by its printed number, or by `#` and its place in the score. */
static muta_status find_bar(const struct parse *parse, const char *word, uint32_t *bar)
{
    const muta_score *const score = parse->score;
    const bool pickup = is_pickup(score);
    size_t count = 0;
    int64_t number;

    if (word[0] == '#') {
        const char *const end = muta_text_count(word + 1, &number);
        if (!end || *end)
            return bad_syntax(parse, "a bar is counted as #3");
        if (number < 1 || (uint64_t)number > score->bar_count)
            return not_there(parse, "bar", word);
        *bar = (uint32_t)number - 1;
        return MUTA_OK;
    }
    if (pickup && strcmp(word, "0") == 0) {
        *bar = 0;
        return MUTA_OK;
    }
    for (size_t i = pickup ? 1 : 0; i < score->bar_count; i++)
        if (strcmp(score->bars[i].number, word) == 0) {
            *bar = (uint32_t)i;
            count++;
        }
    if (count == 0 && pickup && strcmp(score->bars[0].number, word) == 0) {
        *bar = 0;
        count = 1;
    }
    return count == 1   ? MUTA_OK
           : count == 0 ? not_there(parse, "bar", word)
                        : say_ambiguous(parse, word);
}

/* Reads `5`, `5.3` or `5.2+1/2`; the beat is invalid when none is said. */
static muta_status read_point(struct parse *parse, uint32_t *bar, muta_fraction *beat)
{
    char word[WORD];
    size_t length = strcspn(parse->at, ".-, ");

    *beat = (muta_fraction){0, 0};
    if (length == 0 || length >= WORD)
        return bad_syntax(parse, "a bar number is missing");
    memcpy(word, parse->at, length);
    word[length] = '\0';
    parse->at += length;
    MUTA_TRY(find_bar(parse, word, bar));
    if (*parse->at != '.')
        return MUTA_OK;
    length = strcspn(parse->at + 1, "-, ");
    if (length == 0 || length >= WORD)
        return bad_syntax(parse, "a beat is missing");
    memcpy(word, parse->at + 1, length);
    word[length] = '\0';
    if (muta_fraction_parse(word, beat) != MUTA_OK ||
        muta_fraction_compare(*beat, muta_fraction_of(1, 1)) < 0)
        return bad_syntax(parse, "a beat is a number from 1, as 2 or 2+1/2");
    parse->at += length + 1;
    return MUTA_OK;
}

/* Where a beat begins, in quarters from the start of its bar. */
static muta_fraction beat_onset(const muta_score *score, uint32_t bar, muta_fraction beat)
{
    return muta_fraction_multiply(muta_fraction_subtract(beat, muta_fraction_of(1, 1)),
                                  muta_fraction_of(4, score->bars[bar].metre.beat_type));
}

static muta_status check_beat(const struct parse *parse, uint32_t bar, muta_fraction onset)
{
    const muta_bar *const of = &parse->score->bars[bar];
    char beats[MUTA_FRACTION_TEXT];
    const muta_fraction count =
        muta_fraction_multiply(of->length, muta_fraction_of(of->metre.beat_type, 4));
    const int64_t last = count.bottom > 0 ? (count.top + count.bottom - 1) / count.bottom : 0;

    if (muta_fraction_compare(onset, of->length) < 0)
        return MUTA_OK;
    muta_fraction_print_mixed(count, beats);
    muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "bar %s has %s beats, counted from 1; write a beat before %s.%lld", of->number,
                  beats, of->number, (long long)last + 1);
    return MUTA_E_DATA;
}

/* The end of the beat that holds `beat`; behind the bar's last beat the next bar's start. */
static muta_status end_of_beat(const struct parse *parse, uint32_t bar, muta_fraction beat,
                               muta_moment *to)
{
    const muta_fraction next =
        muta_fraction_of(beat.bottom > 0 ? beat.top / beat.bottom + 1 : 1, 1);

    MUTA_TRY(check_beat(parse, bar, beat_onset(parse->score, bar, beat)));
    to->onset = beat_onset(parse->score, bar, next);
    to->bar = bar;
    if (muta_fraction_compare(to->onset, parse->score->bars[bar].length) >= 0)
        *to = (muta_moment){bar + 1, MUTA_ALL_STAVES, MUTA_ZERO};
    return MUTA_OK;
}

static muta_status refuse_order(const struct parse *parse, const muta_range *range)
{
    muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "the stretch ends before it begins, in bar %s; write the earlier bar first",
                  parse->score->bars[range->from.bar].number);
    return MUTA_E_USAGE;
}

/* Where a tone that begins with a note ends, its ties followed. */
static muta_moment end_of_tone(const muta_part *part, const muta_note *note)
{
    while (note->tied_to != MUTA_NO_NOTE)
        note = &part->notes.at[note->tied_to];
    const muta_fraction end = muta_fraction_add(note->onset, note->duration);
    return muta_fraction_compare(end, part->bars[note->bar].length) >= 0
               ? (muta_moment){note->bar + 1, MUTA_ALL_STAVES, MUTA_ZERO}
               : (muta_moment){note->bar, MUTA_ALL_STAVES, end};
}

/* An end beat is heard out: the stretch ends with the longest tone that begins on it. */
static void hear_out(const muta_part *part, const muta_range *range, muta_moment beat,
                     muta_moment *to)
{
    if (beat.bar >= part->bar_count)
        return;
    const muta_part_bar *const bar = &part->bars[beat.bar];
    for (uint32_t i = bar->first; i < bar->first + bar->count; i++) {
        const muta_note *const note = &part->notes.at[i];
        if ((note->flags & (MUTA_NOTE_REST | MUTA_NOTE_GRACE)) || note->tied_from != MUTA_NO_NOTE ||
            (range->staff != MUTA_ANY && part->voices.at[note->voice].home != range->staff) ||
            (range->voice != MUTA_NO_NOTE && note->voice != range->voice) ||
            muta_fraction_compare(note->onset, beat.onset) != 0)
            continue;
        const muta_moment end = end_of_tone(part, note);
        if (muta_moment_compare(end, *to) > 0)
            *to = end;
    }
}

/* @param last  [out] the beat with which it ends; invalid when a bar is named */
static muta_status read_bars(struct parse *parse, muta_range *range, muta_moment *last)
{
    uint32_t bar;
    muta_fraction beat;

    *last = (muta_moment){0, MUTA_ALL_STAVES, {0, 0}};

    range->from = (muta_moment){0, MUTA_ALL_STAVES, MUTA_ZERO};
    range->to = (muta_moment){(uint32_t)parse->score->bar_count, MUTA_ALL_STAVES, MUTA_ZERO};
    if (*parse->at == ':')
        parse->at++;
    else if (*parse->at != '#')
        return MUTA_OK;
    MUTA_TRY(read_point(parse, &bar, &beat));
    range->from.bar = bar;
    if (muta_fraction_is_valid(beat)) {
        range->from.onset = beat_onset(parse->score, bar, beat);
        MUTA_TRY(check_beat(parse, bar, range->from.onset));
    }
    if (*parse->at == '-') {
        parse->at++;
        if (*parse->at == '\0' || *parse->at == ',')
            return MUTA_OK; /* to the end */
        MUTA_TRY(read_point(parse, &bar, &beat));
    }
    range->to = (muta_moment){bar + 1, MUTA_ALL_STAVES, MUTA_ZERO};
    if (muta_fraction_is_valid(beat)) {
        MUTA_TRY(end_of_beat(parse, bar, beat, &range->to));
        *last = (muta_moment){bar, MUTA_ALL_STAVES, beat_onset(parse->score, bar, beat)};
    }
    return muta_moment_compare(range->from, range->to) < 0 ? MUTA_OK : refuse_order(parse, range);
}

static muta_status add_range(struct parse *parse, const muta_range *range)
{
    muta_region *const region = parse->region;
    muta_range *const added = MUTA_PUSH(&region->arena, &region->ranges);

    if (!added)
        return MUTA_E_MEMORY;
    *added = *range;
    if (region->ranges.count == 1 || muta_moment_compare(range->from, region->from) < 0)
        region->from = range->from;
    if (region->ranges.count == 1 || muta_moment_compare(range->to, region->to) > 0)
        region->to = range->to;
    return MUTA_OK;
}

/* Reads one address of those that commas join. */
static muta_status read_one(struct parse *parse)
{
    char word[WORD] = "*";
    bool quoted = false;
    muta_range range = {.voice = MUTA_NO_NOTE};
    const muta_part *part = NULL;
    muta_moment last;

    parse->at += strspn(parse->at, " ");
    if (*parse->at != '#') /* bars alone speak for all parts */
        MUTA_TRY(read_word(parse, "/:,", word, &quoted));
    const bool all = !quoted && strcmp(word, "*") == 0;
    if (!quoted && word[strspn(word, "0123456789.-+")] == '\0' && strpbrk(word, ".-")) {
        muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "\"%.40s\" names no part; bars stand behind one and a colon, as *:%.40s",
                      word, word);
        return MUTA_E_USAGE;
    }
    if (!all) {
        MUTA_TRY(find_part(parse, word, quoted, &range.part));
        part = &parse->score->parts[range.part];
        parse->region->all_parts = false;
    }
    if (all && parse->score->own_grids && (*parse->at == ':' || *parse->at == '#')) {
        muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "the bar lines of the parts do not coincide; name a part before the bars");
        return MUTA_E_DATA;
    }
    MUTA_TRY(read_lines(parse, part, &range));
    if (range.staff != MUTA_ANY)
        parse->region->all_parts = false;
    MUTA_TRY(read_bars(parse, &range, &last));
    for (size_t i = 0; i < parse->score->part_count && muta_fraction_is_valid(last.onset); i++)
        if (all || i == range.part)
            hear_out(&parse->score->parts[i], &range, last, &range.to);
    parse->at += strspn(parse->at, " ");
    if (*parse->at && *parse->at != ',')
        return bad_syntax(parse, "something is left over");
    if (!all)
        return add_range(parse, &range);
    for (uint32_t i = 0; i < parse->score->part_count; i++) {
        range.part = i;
        MUTA_TRY(add_range(parse, &range));
    }
    return MUTA_OK;
}

static muta_status read_all(struct parse *parse)
{
    for (;;) {
        MUTA_TRY(read_one(parse));
        if (*parse->at != ',')
            return MUTA_OK;
        parse->at++;
    }
}

static muta_status new_region(muta_region **region)
{
    *region = calloc(1, sizeof **region);
    if (!*region)
        return MUTA_E_MEMORY;
    (*region)->all_parts = true;
    return MUTA_OK;
}

muta_status muta_region_parse(const muta_score *score, const char *text, muta_region **region,
                              muta_diags *diags)
{
    struct parse parse = {.score = score, .diags = diags, .at = text && *text ? text : "*"};

    assert(score->parts && score->bars);
    MUTA_TRY(new_region(&parse.region));
    const muta_status status = read_all(&parse);
    if (status != MUTA_OK) {
        muta_region_free(parse.region);
        return status;
    }
    *region = parse.region;
    return MUTA_OK;
}

/* Grows a stretch until no range reaches over its edges. */
static void grow_stretch(const muta_region *region, muta_moment *from, muta_moment *to)
{
    for (size_t i = 0; i < region->ranges.count; i++) {
        const muta_range *const range = &region->ranges.at[i];
        const bool apart = muta_moment_compare(range->to, *from) <= 0 ||
                           muta_moment_compare(range->from, *to) >= 0;
        const bool inside = muta_moment_compare(range->from, *from) >= 0 &&
                            muta_moment_compare(range->to, *to) <= 0;
        if (apart || inside)
            continue;
        if (muta_moment_compare(range->from, *from) < 0)
            *from = range->from;
        if (muta_moment_compare(range->to, *to) > 0)
            *to = range->to;
        i = SIZE_MAX; /* look at all of them again */
    }
}

/* The first stretch that begins at or behind a moment; false when there is none. */
static bool next_stretch(const muta_region *region, muta_moment behind, muta_moment *from,
                         muta_moment *to)
{
    bool found = false;

    for (size_t i = 0; i < region->ranges.count; i++) {
        const muta_range *const range = &region->ranges.at[i];
        if (muta_moment_compare(range->from, behind) < 0 ||
            (found && muta_moment_compare(range->from, *from) >= 0))
            continue;
        *from = range->from;
        *to = range->to;
        found = true;
    }
    if (found)
        grow_stretch(region, from, to);
    return found;
}

/* The voice of a part that a listener takes for the tune: the first of its top staff with pitches.
 */
static bool has_tune(const muta_part *part, uint32_t *voice, uint32_t *first_bar)
{
    for (uint32_t i = 0; i < part->voices.count; i++) {
        if (part->voices.at[i].home != 1)
            continue;
        for (size_t j = 0; j < part->notes.count; j++)
            if (part->notes.at[j].voice == i &&
                !(part->notes.at[j].flags & (MUTA_NOTE_REST | MUTA_NOTE_FIXED))) {
                *voice = i;
                *first_bar = part->notes.at[j].bar;
                return true;
            }
    }
    return false;
}

static void find_tune(const muta_score *score, muta_range *range, uint32_t *first_bar)
{
    for (uint32_t i = 0; i < score->part_count; i++)
        if (has_tune(&score->parts[i], &range->voice, first_bar)) {
            range->part = i;
            return;
        }
}

muta_status muta_region_default(const muta_score *score, muta_default what, muta_region **region)
{
    struct parse parse = {.score = score};
    muta_range range = {.voice = MUTA_NO_NOTE,
                        .from = {0, MUTA_ALL_STAVES, MUTA_ZERO},
                        .to = {(uint32_t)score->bar_count, MUTA_ALL_STAVES, MUTA_ZERO}};
    uint32_t bar = 0;

    if (what == MUTA_EVERYTHING)
        return muta_region_parse(score, NULL, region, NULL);
    find_tune(score, &range, &bar);
    if (what == MUTA_FIRST_BAR || what == MUTA_MOTIF) {
        const muta_bar *const of = &score->bars[bar];
        /* A pick-up is no bar to work with. */
        if (bar + 1 < score->bar_count && muta_fraction_compare(of->length, of->metre.length) < 0)
            bar++;
        range.from.bar = bar;
        range.to.bar = bar + 1;
    }
    MUTA_TRY(new_region(&parse.region));
    parse.region->all_parts = false;
    const muta_status status = add_range(&parse, &range);
    if (status != MUTA_OK) {
        muta_region_free(parse.region);
        return status;
    }
    *region = parse.region;
    return MUTA_OK;
}

void muta_region_lengthen(const muta_score *score, muta_region *region, int64_t bars)
{
    const int64_t left = (int64_t)score->bar_count - region->from.bar;
    const uint32_t end = region->from.bar + (uint32_t)(bars < left ? bars : left);

    if (end <= region->to.bar)
        return;
    region->to = (muta_moment){end, MUTA_ALL_STAVES, MUTA_ZERO};
    for (size_t i = 0; i < region->ranges.count; i++)
        region->ranges.at[i].to = region->to;
}

muta_status muta_region_part(const muta_region *region, size_t nth, muta_region **part)
{
    struct parse parse = {0};
    muta_moment from = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    muta_moment to = from;
    bool found = true;

    for (size_t i = 0; i <= nth && found; i++)
        found = next_stretch(region, to, &from, &to);
    *part = NULL;
    if (!found)
        return MUTA_OK;
    MUTA_TRY(new_region(&parse.region));
    parse.region->all_parts = region->all_parts;
    for (size_t i = 0; i < region->ranges.count; i++) {
        const muta_range *const range = &region->ranges.at[i];
        if (muta_moment_compare(range->from, from) < 0 || muta_moment_compare(range->to, to) > 0)
            continue;
        const muta_status status = add_range(&parse, range);
        if (status != MUTA_OK) {
            muta_region_free(parse.region);
            return status;
        }
    }
    *part = parse.region;
    return MUTA_OK;
}

void muta_region_free(muta_region *region)
{
    if (!region)
        return;
    muta_arena_clear(&region->arena);
    free(region);
}

/* The address speaks for the note's staff and voice. */
static bool speaks_for(const muta_range *range, uint32_t part, const muta_note *note)
{
    return range->part == part && (range->staff == MUTA_ANY || range->staff == note->staff) &&
           (range->voice == MUTA_NO_NOTE || range->voice == note->voice);
}

static bool begins_in(const muta_range *range, const muta_note *note)
{
    const muta_moment at = {note->bar, note->staff, note->onset};

    return muta_moment_compare(range->from, at) <= 0 && muta_moment_compare(at, range->to) < 0;
}

const muta_range *muta_region_reaches(const muta_region *region, uint32_t part,
                                      const muta_note *note)
{
    const muta_moment end = {note->bar, note->staff,
                             muta_fraction_add(note->onset, note->duration)};

    for (size_t i = 0; i < region->ranges.count; i++) {
        const muta_range *const range = &region->ranges.at[i];
        if (speaks_for(range, part, note) &&
            (begins_in(range, note) ||
             (!range->begins_inside && range->from.bar == note->bar &&
              muta_moment_compare(range->from, end) < 0 &&
              muta_fraction_compare(note->onset, range->from.onset) < 0 && note->duration.top > 0)))
            return range;
    }
    return NULL;
}

bool muta_region_holds(const muta_region *region, uint32_t part, const muta_note *note)
{
    for (size_t i = 0; i < region->ranges.count; i++)
        if (speaks_for(&region->ranges.at[i], part, note) && begins_in(&region->ranges.at[i], note))
            return true;
    return false;
}

/* Whether the region speaks for a voice at all. */
static bool speaks_for_voice(const muta_region *region, uint32_t part, uint32_t voice, uint8_t home)
{
    for (size_t i = 0; i < region->ranges.count; i++) {
        const muta_range *const range = &region->ranges.at[i];
        if (range->part == part && (range->voice == MUTA_NO_NOTE || range->voice == voice) &&
            (range->staff == MUTA_ANY || range->staff == home))
            return true;
    }
    return false;
}

static muta_status add_voice(struct parse *parse, uint32_t part, uint32_t voice, muta_moment from,
                             muta_moment to)
{
    const muta_range range = {.part = part, .voice = voice, .from = from, .to = to};

    return muta_moment_compare(from, to) < 0 ? add_range(parse, &range) : MUTA_OK;
}

muta_status muta_region_between(const muta_score *score, muta_moment from, muta_moment to,
                                muta_region **region)
{
    struct parse parse = {.score = score};
    muta_status status = new_region(&parse.region);

    for (uint32_t i = 0; status == MUTA_OK && i < score->part_count; i++)
        for (uint32_t j = 0; status == MUTA_OK && j < score->parts[i].voices.count; j++)
            status = add_voice(&parse, i, j, from, to);
    if (status != MUTA_OK) {
        muta_region_free(parse.region);
        return status;
    }
    parse.region->from = from;
    parse.region->to = to;
    *region = parse.region;
    return MUTA_OK;
}

muta_status muta_region_rest(const muta_score *score, const muta_region *region, muta_region **rest)
{
    struct parse parse = {.score = score};
    muta_status status = new_region(&parse.region);

    for (uint32_t i = 0; i < score->part_count; i++)
        for (uint32_t j = 0; status == MUTA_OK && j < score->parts[i].voices.count; j++)
            if (!speaks_for_voice(region, i, j, score->parts[i].voices.at[j].home))
                status = add_voice(&parse, i, j, region->from, region->to);
    *rest = NULL;
    if (status != MUTA_OK || parse.region->ranges.count == 0) {
        muta_region_free(parse.region);
        return status;
    }
    parse.region->from = region->from;
    parse.region->to = region->to;
    *rest = parse.region;
    return MUTA_OK;
}

muta_status muta_region_complement(const muta_score *score, const muta_region *region, size_t part,
                                   muta_region **rest)
{
    const muta_moment start = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    const muta_moment end = {(uint32_t)score->bar_count, MUTA_ALL_STAVES, MUTA_ZERO};
    const muta_part *const of = &score->parts[part];
    struct parse parse = {.score = score};
    muta_status status = new_region(&parse.region);

    for (uint32_t i = 0; status == MUTA_OK && i < of->voices.count; i++) {
        const bool reached = speaks_for_voice(region, (uint32_t)part, i, of->voices.at[i].home);
        status = add_voice(&parse, (uint32_t)part, i, start, reached ? region->from : end);
        if (status == MUTA_OK && reached)
            status = add_voice(&parse, (uint32_t)part, i, region->to, end);
    }
    *rest = NULL;
    if (status != MUTA_OK || parse.region->ranges.count == 0)
        muta_region_free(parse.region);
    else
        *rest = parse.region;
    return status;
}

void muta_region_shift(muta_region *region, int64_t bars)
{
    region->from.bar = (uint32_t)(region->from.bar + bars);
    region->to.bar = (uint32_t)(region->to.bar + bars);
    for (size_t i = 0; i < region->ranges.count; i++) {
        muta_range *const range = &region->ranges.at[i];
        range->from.bar = (uint32_t)(range->from.bar + bars);
        range->to.bar = (uint32_t)(range->to.bar + bars);
    }
}

void muta_region_push(muta_region *region, uint32_t part)
{
    region->all_parts = false;
    for (size_t i = 0; i < region->ranges.count; i++)
        region->ranges.at[i].part += region->ranges.at[i].part >= part;
}

muta_interval muta_region_transposition(const muta_region *region, const muta_score *score,
                                        size_t part)
{
    for (size_t i = 0; i < region->ranges.count; i++)
        if (region->ranges.at[i].part == part) {
            muta_moment at = region->from;
            at.staff = region->ranges.at[i].staff == MUTA_ANY ? 1 : region->ranges.at[i].staff;
            return muta_part_transposition_at(&score->parts[part], at);
        }
    return (muta_interval){0, 0};
}

static void print_point(const muta_score *score, muta_moment at, char *text)
{
    char beat[MUTA_FRACTION_TEXT];
    const muta_bar *const bar = &score->bars[at.bar];
    const char *const number = at.bar == 0 && is_pickup(score) ? "0" : bar->number;

    if (at.onset.top == 0)
        (void)snprintf(text, 64, "%.30s", number);
    else
        (void)snprintf(text, 64, "%.30s.%s", number,
                       muta_fraction_print_mixed(muta_score_place(score, NULL, at).beat, beat));
}

/* The last moment inside, as a reader names it: the bar, or the beat that ends there. */
static void print_end(const muta_score *score, muta_moment to, char *text)
{
    if (to.onset.top == 0) {
        to.bar--;
    } else {
        to.onset = muta_fraction_subtract(to.onset,
                                          muta_fraction_of(4, score->bars[to.bar].metre.beat_type));
        if (to.onset.top == 0) { /* the first beat, which print_point leaves out */
            (void)snprintf(text, 64, "%.30s.1", score->bars[to.bar].number);
            return;
        }
    }
    print_point(score, to, text);
}

const char *muta_region_print(const muta_score *score, const muta_region *region, char *text,
                              size_t room)
{
    char from[64];
    char to[64];
    const muta_range *const first = region->ranges.at;
    bool one_part = true;

    for (size_t i = 1; i < region->ranges.count; i++)
        one_part = one_part && region->ranges.at[i].part == first->part;
    print_point(score, region->from, from);
    print_end(score, region->to, to);
    const bool one_bar = strcmp(from, to) == 0;
    const char *const name = region->all_parts ? "all parts"
                             : one_part        ? score->parts[first->part].name
                                               : "several parts";
    if (!region->all_parts && one_part && first->staff != MUTA_ANY)
        (void)snprintf(text, room, "bar%s %s%s%s of %s/%d", one_bar ? "" : "s", from,
                       one_bar ? "" : "-", one_bar ? "" : to, name, first->staff);
    else
        (void)snprintf(text, room, "bar%s %s%s%s of %s", one_bar ? "" : "s", from,
                       one_bar ? "" : "-", one_bar ? "" : to, name);
    return text;
}
