/* say.c: diagnostics as lines for a person. */
#include "cli.h"
#include <stdio.h>
#include <string.h>

int muta_exit_status(muta_status status)
{
    switch (status) {
    case MUTA_OK:
        return 0;
    case MUTA_E_USAGE:
        return 64;
    case MUTA_E_DATA:
    case MUTA_E_RANGE:
        return 65;
    case MUTA_E_NO_INPUT:
        return 66;
    case MUTA_E_FAULT:
    case MUTA_E_MEMORY:
        return 70;
    case MUTA_E_CREATE:
        return 73;
    case MUTA_E_IO:
        return 74;
    }
    return 70;
}

/* A name as a terminal may see it: no control characters, and not without end. */
static void print_name(const char *name)
{
    enum {
        LONGEST = 60
    };
    size_t printed = 0;

    for (const unsigned char *at = (const unsigned char *)name; *at; at++) {
        const bool is_control = *at < ' ' || *at == 0x7f;
        const bool is_control_1 = *at == 0xc2 && at[1] >= 0x80 && at[1] < 0xa0;
        const bool begins = (*at & 0xc0) != 0x80;
        if (begins && ++printed > LONGEST) {
            (void)fputs("...", stderr);
            return;
        }
        (void)fputc(is_control || is_control_1 ? '?' : *at, stderr);
        at += is_control_1;
    }
}

static void print_place(const muta_place *place)
{
    char beat[MUTA_FRACTION_TEXT];
    const char *comma = "";

    if (place->part) {
        (void)fputs("part \"", stderr);
        print_name(place->part);
        (void)fputc('"', stderr);
        comma = ", ";
    }
    if (place->bar) {
        (void)fprintf(stderr, "%sbar %s", comma, place->bar);
        comma = ", ";
    }
    if (muta_fraction_is_valid(place->beat)) {
        (void)fprintf(stderr, "%sbeat %s", comma, muta_fraction_print_mixed(place->beat, beat));
        comma = ", ";
    }
    if (place->line > 0) {
        (void)fprintf(stderr, "%sline %ld", comma, place->line);
        comma = ", ";
    }
    if (*comma)
        (void)fputs(": ", stderr);
}

static bool is_alike(const muta_diag *a, const muta_diag *b)
{
    const bool same_part =
        a->place.part == b->place.part ||
        (a->place.part && b->place.part && strcmp(a->place.part, b->place.part) == 0);

    return a->severity == b->severity && same_part && strcmp(a->kind, b->kind) == 0;
}

/* How often this kind is said of this part; 0 when it was told with an earlier one. */
static size_t count_alike(const muta_diags *diags, size_t nth)
{
    const muta_diag *const diag = muta_diags_at(diags, nth);
    size_t count = 1;

    for (size_t i = 0; i < nth; i++)
        if (is_alike(muta_diags_at(diags, i), diag))
            return 0;
    for (size_t i = nth + 1; muta_diags_at(diags, i); i++)
        count += is_alike(muta_diags_at(diags, i), diag);
    return count;
}

void muta_say(const muta_diags *diags, const char *file, const muta_options *options)
{
    const muta_diag *diag;
    /* Where nothing was written the reason alone counts. */
    const bool failed = muta_diags_count(diags, MUTA_ERROR) > 0 && !options->verbose;

    for (size_t i = 0; (diag = muta_diags_at(diags, i)); i++) {
        const bool error = diag->severity == MUTA_ERROR;
        const size_t count = error || options->verbose ? 1 : count_alike(diags, i);
        if (count == 0 || ((options->quiet || failed) && !error))
            continue;
        (void)fputs("mutanza: ", stderr);
        if (file)
            (void)fprintf(stderr, "%s: ", file);
        if (!error)
            (void)fputs(diag->severity == MUTA_NOTE ? "note: " : "warning: ", stderr);
        print_place(&diag->place);
        (void)fputs(diag->message, stderr);
        if (count > 1)
            (void)fprintf(stderr, " (%zu times, first here)", count);
        (void)fputc('\n', stderr);
    }
}
