/*
 * where.c: addresses that listen: `tune` and `bass` for a part, `p2` and `p1-p3`, phrases, for
 * bars.
 *
 *     tune:p1-p2   ── the stretches in which a line has the tune ─┐
 *                  ── the bars, or the phrases ───────────────────┴─ ranges that lie in both
 */
#include "study/study.h"
#include <stdio.h>
#include <string.h>

enum {
    WORD = 256
};

/* One address of those that commas join, in its two halves. */
struct address {
    char part[WORD]; /* with its staff and voice */
    char bars[WORD]; /* without the colon; empty when none are said */
};

struct reading {
    const muta_score *score;
    const muta_study *study;
    muta_region *region;
    muta_diags *diags;
};

/* Where a piece of an address ends; what stands in quotes is passed over. */
static size_t piece_length(const char *at, const char *ends)
{
    bool quoted = false;
    size_t length = 0;

    for (; at[length] && (quoted || !strchr(ends, at[length])); length++)
        quoted = quoted != (at[length] == '"');
    return length;
}

static bool copy(char *to, const char *from, size_t length)
{
    if (length >= WORD)
        return false;
    memcpy(to, from, length);
    to[length] = '\0';
    return true;
}

/* Parts an address; false when a half of it is too long to be one of ours. */
static bool split(const char *at, size_t length, struct address *address)
{
    const size_t blanks = strspn(at, " ");

    at += blanks;
    length -= blanks < length ? blanks : length;
    while (length > 0 && at[length - 1] == ' ')
        length--;
    const size_t part = piece_length(at, ":,");
    const size_t head = part < length ? part : length;
    return copy(address->part, at, head) &&
           copy(address->bars, at + head + (head < length), head < length ? length - head - 1 : 0);
}

static bool is_phrase(const char *bars)
{
    return bars[0] == 'p' && bars[1] >= '0' && bars[1] <= '9';
}

/* A part that is called so goes before what the word means. */
static bool is_word(const muta_score *score, const char *part, const char *word)
{
    for (size_t i = 0; i < score->part_count; i++)
        if (muta_text_alike(score->parts[i].name, word))
            return false;
    return muta_text_alike(part, word);
}

static bool listens(const muta_score *score, const struct address *address)
{
    return is_phrase(address->bars) || is_word(score, address->part, "tune") ||
           is_word(score, address->part, "bass");
}

/* Reads `p2`; what stands behind it, NULL when there is no such phrase. */
static const char *read_phrase(const struct reading *reading, const char *at, size_t *phrase)
{
    const size_t count = reading->study->phrases.count;
    int64_t number = 0;
    const char *const end = is_phrase(at) ? muta_text_count(at + 1, &number) : NULL;

    if (end && number >= 1 && (uint64_t)number <= count) {
        *phrase = (size_t)number - 1;
        return end;
    }
    muta_diag_add(reading->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "there is no phrase \"%.40s\"; `mutanza study` counts %zu, p1 to p%zu", at, count,
                  count);
    return NULL;
}

/* The stretch that some phrases cover: up to where the next one begins. */
static muta_status read_phrases(const struct reading *reading, const char *at, muta_moment *from,
                                muta_moment *to)
{
    const muta_study *const study = reading->study;
    size_t first;
    size_t last;

    at = read_phrase(reading, at, &first);
    if (!at)
        return MUTA_E_DATA;
    last = first;
    if (*at == '-')
        at = read_phrase(reading, at + 1, &last);
    if (!at)
        return MUTA_E_DATA;
    if (*at || last < first) {
        muta_diag_add(reading->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "phrases are written as p2 or p1-p3, the earlier one first");
        return MUTA_E_USAGE;
    }
    *from = first == 0 ? (muta_moment){0, MUTA_ALL_STAVES, MUTA_ZERO}
                       : muta_look_moment(study, study->phrases.at[first].from);
    *to = last + 1 < study->phrases.count
              ? muta_look_moment(study, study->phrases.at[last + 1].from)
              : (muta_moment){(uint32_t)study->score->bar_count, MUTA_ALL_STAVES, MUTA_ZERO};
    return MUTA_OK;
}

static muta_moment later(muta_moment a, muta_moment b)
{
    return muta_moment_compare(a, b) < 0 ? b : a;
}

static muta_moment sooner(muta_moment a, muta_moment b)
{
    return muta_moment_compare(a, b) < 0 ? a : b;
}

/* What of a range lies in a stretch. */
static muta_status add_within(const struct reading *reading, muta_range range, muta_moment from,
                              muta_moment to)
{
    range.from = later(range.from, from);
    range.to = sooner(range.to, to);
    return muta_moment_compare(range.from, range.to) < 0 ? muta_region_add(reading->region, &range)
                                                         : MUTA_OK;
}

static muta_status add_region(const struct reading *reading, const muta_region *plain,
                              muta_moment from, muta_moment to)
{
    reading->region->all_parts = reading->region->all_parts && plain->all_parts;
    for (size_t i = 0; i < plain->ranges.count; i++)
        MUTA_TRY(add_within(reading, plain->ranges.at[i], from, to));
    return MUTA_OK;
}

static muta_status add_leads(const struct reading *reading, const muta_leads *leads,
                             muta_moment from, muta_moment to)
{
    reading->region->all_parts = false;
    for (size_t i = 0; i < leads->count; i++) {
        const muta_range range = muta_lead_range(reading->study, &leads->at[i]);
        MUTA_TRY(add_within(reading, range, from, to));
    }
    return MUTA_OK;
}

/* From when to when an address speaks, if study has to say so; else that of `*:BARS`. */
static muta_status read_stretch(const struct reading *reading, const char *bars, muta_moment *from,
                                muta_moment *to)
{
    char text[WORD + 4];
    muta_region *plain;

    if (is_phrase(bars))
        return read_phrases(reading, bars, from, to);
    (void)snprintf(text, sizeof text, "*%s%s", *bars ? ":" : "", bars);
    MUTA_TRY(muta_region_parse(reading->score, text, &plain, reading->diags));
    *from = plain->from;
    *to = plain->to;
    muta_region_free(plain);
    return MUTA_OK;
}

static muta_status read_one(const struct reading *reading, const struct address *address)
{
    const bool is_tune = is_word(reading->score, address->part, "tune");
    muta_moment from;
    muta_moment to;
    muta_region *plain;

    MUTA_TRY(read_stretch(reading, address->bars, &from, &to));
    if (is_tune || is_word(reading->score, address->part, "bass"))
        return add_leads(
            reading, is_tune ? &reading->study->tune_leads : &reading->study->bass_leads, from, to);
    MUTA_TRY(muta_region_parse(reading->score, address->part, &plain, reading->diags));
    const muta_status status = add_region(reading, plain, from, to);
    muta_region_free(plain);
    return status;
}

/* An address that does not listen is read as it always is. */
static muta_status read_plain(const struct reading *reading, const char *at, size_t length)
{
    const muta_moment start = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    const muta_moment end = {(uint32_t)reading->score->bar_count, MUTA_ALL_STAVES, MUTA_ZERO};
    char text[2 * WORD];
    muta_region *plain;

    (void)snprintf(text, sizeof text, "%.*s", (int)length, at);
    MUTA_TRY(muta_region_parse(reading->score, text, &plain, reading->diags));
    const muta_status status = add_region(reading, plain, start, end);
    muta_region_free(plain);
    return status;
}

static muta_status read_all(const struct reading *reading, const char *text)
{
    struct address address;

    for (const char *at = text;; at++) {
        const size_t length = piece_length(at, ",");
        MUTA_TRY(length < 2 * (size_t)WORD && split(at, length, &address) &&
                         listens(reading->score, &address)
                     ? read_one(reading, &address)
                     : read_plain(reading, at, length));
        at += length;
        if (!*at)
            break;
    }
    if (reading->region->ranges.count > 0)
        return MUTA_OK;
    muta_diag_add(reading->diags, MUTA_ERROR, MUTA_NOWHERE, "nothing lies in \"%.60s\"", text);
    return MUTA_E_DATA;
}

static bool any_listens(const muta_score *score, const char *text)
{
    struct address address;

    for (const char *at = text;; at++) {
        const size_t length = piece_length(at, ",");
        if (split(at, length, &address) && listens(score, &address))
            return true;
        at += length;
        if (!*at)
            return false;
    }
}

muta_status muta_study_region(const muta_score *score, const char *text, muta_region **region,
                              muta_diags *diags)
{
    struct reading reading = {.score = score, .diags = diags};
    muta_study *study = NULL;

    if (!text || score->own_grids || !any_listens(score, text))
        return muta_region_parse(score, text, region, diags);
    MUTA_TRY(muta_study_new(score, NULL, &study, diags));
    reading.study = study;
    muta_status status = muta_region_new(&reading.region);
    if (status == MUTA_OK)
        status = read_all(&reading, text);
    muta_study_free(study);
    if (status != MUTA_OK)
        muta_region_free(reading.region);
    else
        *region = reading.region;
    return status;
}
