/* json.c: JSON text, two blanks a level. */
#include "base/json.h"
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

muta_status muta_json_end(muta_json *json)
{
    put(json, "\n");
    if (!json->failed)
        return MUTA_OK;
    free(json->text.at);
    return MUTA_E_MEMORY;
}
