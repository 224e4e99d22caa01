/* hearing.c: the table of weights, read. */
#include "study/hearing.h"
#include "theory/table.h"
#include <string.h>

struct block {
    const char *name;
    size_t at;
    size_t size;
};

static const struct block blocks[] = {
#define BLOCK(name, size)                                                                          \
    {#name, offsetof(muta_hearing, name) / sizeof(int16_t),                                        \
     sizeof(((muta_hearing *)NULL)->name) / sizeof(int16_t)},
    MUTA_HEARING_BLOCKS(BLOCK)
#undef BLOCK
};

/* Reads the numbers of a row behind those that a block has; false when they are no numbers, or too
 * many. */
static bool read_row(muta_text cell, const struct block *block, size_t *count, int16_t *weights)
{
    muta_text word;

    while (muta_word_next(&cell, &word)) {
        int64_t number = 0;
        const bool is_less = word.length > 0 && word.at[0] == '-';
        const char *const end = word.at + word.length;
        if (*count == block->size || muta_text_count(word.at + is_less, &number) != end ||
            number > INT16_MAX)
            return false;
        weights[block->at + (*count)++] = (int16_t)(is_less ? -number : number);
    }
    return true;
}

bool muta_hearing_read(const char *table, muta_hearing *hearing)
{
    int16_t weights[MUTA_WEIGHTS] = {0};
    size_t counts[MUTA_LENGTH(blocks)] = {0};
    muta_row row;

    while (muta_table_next(&table, &row)) {
        size_t nth = 0;
        while (nth < MUTA_LENGTH(blocks) && !muta_text_is(row.cells[0], blocks[nth].name))
            nth++;
        if (nth == MUTA_LENGTH(blocks) ||
            !read_row(row.cells[1], &blocks[nth], &counts[nth], weights))
            return false;
    }
    memcpy(hearing, weights, sizeof *hearing);
    for (size_t i = 0; i < MUTA_LENGTH(blocks); i++)
        if (counts[i] != blocks[i].size)
            return false;
    return true;
}
