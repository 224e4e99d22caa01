/* patterns.c: the words of shared/patterns.txt. */
#include "passes/patterns.h"
#include <string.h>

static void read_letter(char letter, muta_stroke *stroke)
{
    if (letter == '-')
        stroke->kind = MUTA_STROKE_REST;
    if (letter == '.')
        stroke->kind = MUTA_STROKE_HOLD;
    if (letter < '0' || letter > '9')
        return;
    stroke->kind = MUTA_STROKE_STRIKE;
    stroke->is_low = stroke->is_low || letter == '0';
    stroke->voices |= (uint8_t)(1U << (letter == '0' ? 0 : letter - '1'));
}

static void add_stroke(muta_hand *hand, uint8_t stream, const char *at, size_t length)
{
    muta_stream *const to = &hand->streams[stream];
    muta_stroke stroke = {0};

    if (to->count == MUTA_STROKES)
        return;
    for (size_t i = 0; i < length; i++)
        if (at[i] == '*')
            to->goes_on = true;
        else
            read_letter(at[i], &stroke);
    to->at[to->count++] = stroke;
    hand->voices |= stroke.voices;
    hand->count = hand->count > stream ? hand->count : (uint8_t)(stream + 1);
}

static muta_hand read_hand(muta_text cell)
{
    muta_hand hand = {0};
    muta_text word;

    while (muta_word_next(&cell, &word)) {
        const char *const slash = memchr(word.at, '/', word.length);
        const size_t first = slash ? (size_t)(slash - word.at) : word.length;
        add_stroke(&hand, 0, word.at, first);
        if (slash)
            add_stroke(&hand, 1, slash + 1, word.length - first - 1);
    }
    return hand;
}

static muta_step read_step(muta_text word)
{
    static const char *const names[] = {"chord", "bar", "beat", "unit"};

    for (int i = 0; i < 4; i++)
        if (muta_text_is(word, names[i]))
            return (muta_step)i;
    return MUTA_STEP_HALF;
}

bool muta_pattern_find(const char *name, muta_pattern *pattern)
{
    const char *at = muta_table_patterns;
    muta_row row;

    while (muta_table_next(&at, &row)) {
        if (!muta_text_is(row.cells[0], name))
            continue;
        *pattern = (muta_pattern){
            .name = row.cells[0],
            .step = read_step(row.cells[1]),
            .low = read_hand(row.cells[2]),
            .high = read_hand(row.cells[3]),
            .one = read_hand(row.cells[4]),
            .summary = row.cells[5],
        };
        return true;
    }
    return false;
}

const muta_stroke *muta_stream_at(const muta_stream *stream, size_t step)
{
    if (step >= stream->count)
        step = stream->goes_on ? stream->count - 1U : step % stream->count;
    return &stream->at[step];
}
