/* json.c: JSON text, two blanks a level. */
#include "base/json.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void put(muta_json *json, const char *text)
{
    if (!json->failed && muta_buffer_put(&json->text, text, strlen(text)) != MUTA_OK)
        json->failed = true;
}

static void put_quoted(muta_json *json, const char *text)
{
    char one[8];

    put(json, "\"");
    for (; *text; text++) {
        if (*text == '"' || *text == '\\')
            (void)snprintf(one, sizeof one, "\\%c", *text);
        else if ((unsigned char)*text < ' ')
            (void)snprintf(one, sizeof one, "\\u%04x", (unsigned)*text);
        else
            (void)snprintf(one, sizeof one, "%c", *text);
        put(json, one);
    }
    put(json, "\"");
}

static void begin(muta_json *json, const char *key)
{
    if (json->comma)
        put(json, ",");
    if (json->depth > 0)
        put(json, "\n");
    for (int i = 0; i < json->depth; i++)
        put(json, "  ");
    if (key) {
        put_quoted(json, key);
        put(json, ": ");
    }
    json->comma = true;
}

void muta_json_open(muta_json *json, const char *key, char bracket)
{
    const char text[] = {bracket, '\0'};

    begin(json, key);
    put(json, text);
    json->depth++;
    json->comma = false;
}

void muta_json_close(muta_json *json, char bracket)
{
    const char text[] = {bracket, '\0'};
    const bool empty = !json->comma;

    json->depth--;
    json->comma = false;
    if (!empty)
        begin(json, NULL);
    put(json, text);
    json->comma = true;
}

void muta_json_text(muta_json *json, const char *key, const char *value)
{
    begin(json, key);
    put_quoted(json, value);
}

void muta_json_count(muta_json *json, const char *key, int64_t value)
{
    char text[24];

    begin(json, key);
    (void)snprintf(text, sizeof text, "%" PRId64, value);
    put(json, text);
}

void muta_json_flag(muta_json *json, const char *key, bool value)
{
    begin(json, key);
    put(json, value ? "true" : "false");
}

/* Written digit by digit: the locale has no say in it. */
static void put_decimal(muta_json *json, int64_t whole, int64_t millionths, bool minus)
{
    char text[48];
    size_t length = (size_t)snprintf(text, sizeof text, "%s%" PRId64 ".%06" PRId64,
                                     minus ? "-" : "", whole, millionths);

    while (text[length - 1] == '0')
        length--;
    if (text[length - 1] == '.')
        length--;
    text[length] = '\0';
    put(json, text);
}

void muta_json_share(muta_json *json, const char *key, int64_t value, int64_t parts)
{
    const int64_t size = value < 0 ? -value : value;

    begin(json, key);
    put_decimal(json, size / parts, size % parts * 1000000 / parts, value < 0);
}

void muta_json_time(muta_json *json, const char *key, muta_fraction time)
{
    char text[MUTA_FRACTION_TEXT];

    if (!muta_fraction_is_valid(time))
        return;
    muta_json_share(json, key, time.top, time.bottom);
    if (time.bottom != 1 && strcmp(key, "onset") == 0)
        muta_json_text(json, "at", muta_fraction_print(time, text));
}

muta_status muta_json_end(muta_json *json)
{
    put(json, "\n");
    if (!json->failed)
        return MUTA_OK;
    free(json->text.at);
    return MUTA_E_MEMORY;
}
