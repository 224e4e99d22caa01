/* own_chords.c: the chords as a person reads them, which go before what is written or heard. */
#include "score/region.h"
#include "theory/table.h"
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum {
    WORD = 64
};

static muta_status refuse(muta_diags *diags, int64_t line, const char *what)
{
    muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                  "line %" PRId64 " of the chords: %s; a line is written as 5.3 D7/F#, bar and "
                  "beat, then a chord symbol, or - for none",
                  line, what);
    return MUTA_E_DATA;
}

/* `5.3` as a moment of the score. */
static muta_status find_moment(const muta_score *score, muta_text word, muta_moment *at)
{
    char address[2 * WORD + 8];
    muta_region *region;

    if (word.length == 0 || word.length >= WORD || memchr(word.at, '-', word.length) ||
        memchr(word.at, ',', word.length))
        return MUTA_E_DATA;
    const int length = (int)word.length;
    (void)snprintf(address, sizeof address, "*:%.*s-%.*s", length, word.at, length, word.at);
    MUTA_TRY(muta_region_parse(score, address, &region, NULL));
    *at = region->from;
    muta_region_free(region);
    return MUTA_OK;
}

static muta_status read_line(muta_score *score, muta_text line, int64_t number, muta_diags *diags)
{
    muta_own_chord reading = {.is_none = false};
    muta_text when;
    muta_text symbol;
    muta_text more;

    if (!muta_word_next(&line, &when))
        return MUTA_OK;
    const muta_status status = find_moment(score, when, &reading.at);
    if (status == MUTA_E_MEMORY)
        return status;
    if (status != MUTA_OK)
        return refuse(diags, number, "there is no such bar and beat");
    if (!muta_word_next(&line, &symbol) || muta_word_next(&line, &more))
        return refuse(diags, number, "one chord symbol is needed");
    reading.is_none = muta_text_is(symbol, "-");
    if (!reading.is_none && !muta_chord_parse(symbol, &reading.value))
        return refuse(diags, number, "this is no chord symbol");
    if (score->own_chords.rows.count > 0 &&
        muta_moment_compare(score->own_chords.rows.at[score->own_chords.rows.count - 1].at,
                            reading.at) >= 0)
        return refuse(diags, number, "it does not come behind the line before");
    muta_own_chord *const made = MUTA_PUSH(&score->own_chords.arena, &score->own_chords.rows);
    if (!made)
        return MUTA_E_MEMORY;
    *made = reading;
    return MUTA_OK;
}

muta_status muta_score_read_chords(muta_score *score, const char *text, muta_diags *diags)
{
    int64_t number = 1;

    for (const char *at = text; *at; number++) {
        const size_t length = strcspn(at, "\n");
        const size_t shown = at[0] == '#' ? 0 : strcspn(at, "\r\n");
        MUTA_TRY(read_line(score, (muta_text){at, shown}, number, diags));
        at += length + (at[length] == '\n');
    }
    return MUTA_OK;
}

muta_status muta_own_chords_repeat(muta_score *score, size_t from, size_t to, size_t count)
{
    const size_t rows = score->own_chords.rows.count;

    for (size_t nth = 0; nth < count; nth++)
        for (size_t i = 0; i < rows; i++) {
            muta_own_chord reading = score->own_chords.rows.at[i];
            if (reading.at.bar < from || reading.at.bar >= to)
                continue;
            reading.at.bar += (uint32_t)(score->bar_count - from + nth * (to - from));
            muta_own_chord *const made =
                MUTA_PUSH(&score->own_chords.arena, &score->own_chords.rows);
            if (!made)
                return MUTA_E_MEMORY;
            *made = reading;
        }
    return MUTA_OK;
}

void muta_own_chords_drop(muta_score *score, size_t first)
{
    size_t kept = 0;

    for (size_t i = 0; i < score->own_chords.rows.count; i++) {
        muta_own_chord reading = score->own_chords.rows.at[i];
        if (reading.at.bar < first)
            continue;
        reading.at.bar -= (uint32_t)first;
        score->own_chords.rows.at[kept++] = reading;
    }
    score->own_chords.rows.count = kept;
}
