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
    const bool pickup = muta_score_has_pickup(score);
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
        return muta_region_add(parse->region, &range);
    for (uint32_t i = 0; i < parse->score->part_count; i++) {
        range.part = i;
        MUTA_TRY(muta_region_add(parse->region, &range));
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

muta_status muta_region_parse(const muta_score *score, const char *text, muta_region **region,
                              muta_diags *diags)
{
    struct parse parse = {.score = score, .diags = diags, .at = text && *text ? text : "*"};

    assert(score->parts && score->bars);
    MUTA_TRY(muta_region_new(&parse.region));
    const muta_status status = read_all(&parse);
    if (status != MUTA_OK) {
        muta_region_free(parse.region);
        return status;
    }
    *region = parse.region;
    return MUTA_OK;
}
