/* file.c: small files that a person wrote: lines of passes, readings of chords. */
#include "cli.h"
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

muta_status muta_read_file(const char *path, char **text, muta_diags *diags)
{
    enum {
        LARGEST = 1 << 20
    };
    FILE *const file = fopen(path, "rb");
    char *const read = calloc(1, LARGEST + 1);

    if (!file || !read) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "%.200s cannot be read: %s", path,
                      strerror(errno));
        if (file)
            (void)fclose(file);
        free(read);
        return file ? MUTA_E_MEMORY : MUTA_E_NO_INPUT;
    }
    const size_t length = fread(read, 1, LARGEST, file);
    const bool good = !ferror(file) && feof(file);
    (void)fclose(file);
    if (!good || memchr(read, '\0', length)) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "%.200s is no text, or larger than %d bytes",
                      path, LARGEST);
        free(read);
        return MUTA_E_DATA;
    }
    *text = read;
    return MUTA_OK;
}

muta_status muta_read_chords(const muta_verb_call *call, muta_score *score)
{
    char *text = NULL;

    if (!call->options.chords)
        return MUTA_OK;
    MUTA_TRY(muta_read_file(call->options.chords, &text, call->diags));
    const muta_status status = muta_score_read_chords(score, text, call->diags);
    free(text);
    return status;
}
