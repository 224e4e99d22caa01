/* table.c: rows and cells of the built-in tables. */
#include "theory/table.h"
#include <stdio.h>
#include <string.h>

static muta_text upto(const char *at, const char *end)
{
    return muta_text_trim((muta_text){at, (size_t)(end - at)});
}

bool muta_table_next(const char **at, muta_row *row)
{
    while (**at) {
        const char *const end = *at + strcspn(*at, "\n");
        const char *cell = *at;
        *at = *end ? end + 1 : end;
        if (*cell == '#' || muta_text_is_blank(cell, (size_t)(end - cell)))
            continue;
        row->count = 0;
        while (cell <= end && row->count < MUTA_TABLE_CELLS) {
            const char *bar = memchr(cell, '|', (size_t)(end - cell));
            bar = bar ? bar : end;
            row->cells[row->count++] = upto(cell, bar);
            cell = bar + 1;
        }
        for (size_t i = row->count; i < MUTA_TABLE_CELLS; i++)
            row->cells[i] = (muta_text){"", 0};
        return true;
    }
    return false;
}

bool muta_cell_next(muta_text *cell, muta_text *entry)
{
    if (cell->length == 0)
        return false;
    const char *const end = cell->at + cell->length;
    const char *comma = memchr(cell->at, ',', cell->length);
    comma = comma ? comma : end;
    *entry = upto(cell->at, comma);
    cell->at = comma < end ? comma + 1 : end;
    cell->length = (size_t)(end - cell->at);
    return true;
}

bool muta_text_is(muta_text view, const char *text)
{
    return strlen(text) == view.length && memcmp(view.at, text, view.length) == 0;
}

const char *muta_table_nearest(const char *table, const char *wrong, char *name)
{
    size_t best = 4; /* farther is not near */
    muta_row row;

    name[0] = '\0';
    while (muta_table_next(&table, &row)) {
        char text[MUTA_TABLE_NAME] = "";
        if (row.cells[0].length >= sizeof text)
            continue;
        memcpy(text, row.cells[0].at, row.cells[0].length);
        const size_t distance = muta_text_distance(wrong, text);
        if (distance >= best)
            continue;
        best = distance;
        memcpy(name, text, sizeof text);
    }
    return name[0] ? name : NULL;
}

static bool is_same(muta_text a, muta_text b)
{
    return a.length == b.length && (a.length == 0 || memcmp(a.at, b.at, a.length) == 0);
}

bool muta_table_next_name(const char **at, muta_row *row)
{
    const muta_text before = row->cells[0];

    do
        if (!muta_table_next(at, row))
            return false;
    while (is_same(before, row->cells[0]));
    return true;
}

const char *muta_table_names(const char *table, char *text, size_t room)
{
    size_t used = 0;
    muta_row row = {.count = 0};

    text[0] = '\0';
    while (muta_table_next_name(&table, &row)) {
        const int length = snprintf(text + used, room - used, "%s%.*s", used ? ", " : "",
                                    (int)row.cells[0].length, row.cells[0].at);
        used += (size_t)length < room - used ? (size_t)length : room - used - 1;
    }
    return text;
}

bool muta_table_has(const char *table, const char *name)
{
    muta_row row;

    while (muta_table_next(&table, &row))
        if (muta_text_is(row.cells[0], name))
            return true;
    return false;
}

bool muta_word_next(muta_text *cell, muta_text *word)
{
    const char *const end = cell->at + cell->length;
    const char *at = cell->at;

    while (at < end && *at == ' ')
        at++;
    word->at = at;
    while (at < end && *at != ' ')
        at++;
    word->length = (size_t)(at - word->at);
    *cell = (muta_text){at, (size_t)(end - at)};
    return word->length > 0;
}

size_t muta_cell_steps(muta_text cell, int8_t *steps, size_t room, size_t *held)
{
    size_t count = 0;
    int8_t sign = 1;

    for (size_t i = 0; i < cell.length; i++) {
        const char c = cell.at[i];
        if (c == '*' && held && count > 0)
            *held = count - 1;
        else if (c >= '0' && c <= '9' && count < room)
            steps[count++] = (int8_t)(sign * (c - '0'));
        sign = c == '-' ? -1 : 1;
    }
    return count;
}
