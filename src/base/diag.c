/* diag.c: the list of what went wrong. */
#include "mutanza/diag.h"
#include "base/vec.h"
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct muta_diags {
    muta_arena arena;
    MUTA_VEC(muta_diag) list;
};

muta_diags *muta_diags_new(void)
{
    return calloc(1, sizeof(muta_diags));
}

void muta_diags_free(muta_diags *diags)
{
    if (!diags)
        return;
    muta_arena_clear(&diags->arena);
    free(diags);
}

size_t muta_diags_count(const muta_diags *diags, muta_severity severity)
{
    size_t count = 0;

    for (size_t i = 0; i < diags->list.count; i++)
        count += diags->list.at[i].severity == severity;
    return count;
}

const muta_diag *muta_diags_at(const muta_diags *diags, size_t nth)
{
    return nth < diags->list.count ? &diags->list.at[nth] : NULL;
}

static const char *copied(muta_diags *diags, const char *text)
{
    return text ? muta_arena_copy_text(&diags->arena, text, strlen(text)) : NULL;
}

void muta_diag_add(muta_diags *diags, muta_severity severity, muta_place place, const char *format,
                   ...)
{
    char message[512];
    va_list values;

    if (!diags)
        return;
    va_start(values, format);
    (void)vsnprintf(message, sizeof message, format, values);
    va_end(values);
    muta_diag *const diag = MUTA_PUSH(&diags->arena, &diags->list);
    if (!diag)
        return;
    place.part = copied(diags, place.part);
    place.bar = copied(diags, place.bar);
    *diag = (muta_diag){severity, format, place, copied(diags, message)};
    if (strcmp(format, "%s") == 0)
        diag->kind = diag->message;
    if (!diag->message)
        diags->list.count--;
}
