/* decode.c: encodings, by iconv; what is UTF-8 already passes through. */
#include "musicxml/decode.h"
#include <errno.h>
#include <iconv.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    ROOM = 32 * 1024,
    NAME_LENGTH = 40,
    LONGEST_CHARACTER = 16
};

struct muta_decoder {
    muta_source source;
    muta_diags *diags;
    iconv_t converter; /* (iconv_t)-1: the bytes are UTF-8 already */
    size_t from;       /* the unread bytes are raw[from .. end] */
    size_t end;
    bool first;         /* nothing has been given out yet */
    char raw[ROOM + 1]; /* ends with a zero, for the text functions */
};

static const iconv_t none = (iconv_t)-1;

/* The declared encoding in an ASCII-like start; empty when there is none. */
static void declared(const char *at, size_t length, char *name)
{
    static const char key[] = "encoding";
    char head[200];
    const size_t count = length < sizeof head - 1 ? length : sizeof head - 1;

    name[0] = '\0';
    memcpy(head, at, count);
    head[count] = '\0';
    char *const end = strchr(head, '>');
    if (strncmp(head, "<?xml", 5) != 0 || !end)
        return;
    *end = '\0';
    const char *found = strstr(head, key);
    if (!found)
        return;
    found += sizeof key - 1;
    found += strspn(found, " \t\r\n=");
    if (*found != '"' && *found != '\'')
        return;
    const char quote[] = {*found++, '\0'};
    const size_t size = strcspn(found, quote);
    if (size < NAME_LENGTH) {
        memcpy(name, found, size);
        name[size] = '\0';
    }
}

struct mark {
    const char *bytes;
    size_t length;
    size_t skip;
    const char *encoding;
};

/* UTF-32's mark begins like UTF-16's, so it comes first; then starts with `<` and zero bytes. */
static const struct mark marks[] = {
    {"\xff\xfe\0\0", 4, 4, "UTF-32LE"}, {"\0\0\xfe\xff", 4, 4, "UTF-32BE"},
    {"\xef\xbb\xbf", 3, 3, "UTF-8"},    {"\xff\xfe", 2, 2, "UTF-16LE"},
    {"\xfe\xff", 2, 2, "UTF-16BE"},     {"<\0?\0", 4, 0, "UTF-16LE"},
    {"\0<\0?", 4, 0, "UTF-16BE"},       {"<\0s\0", 4, 0, "UTF-16LE"},
    {"\0<\0s", 4, 0, "UTF-16BE"},
};

static bool is_wide(const char *encoding)
{
    return muta_text_begins(encoding, "UTF-16") || muta_text_begins(encoding, "UTF-32") ||
           muta_text_begins(encoding, "UCS") || muta_text_begins(encoding, "ISO-10646");
}

/* Fills the buffer from the source; fewer bytes than asked for only at the end. */
static muta_status fill(muta_decoder *decoder)
{
    size_t got;

    memmove(decoder->raw, decoder->raw + decoder->from, decoder->end - decoder->from);
    decoder->end -= decoder->from;
    decoder->from = 0;
    while (decoder->end < ROOM) {
        MUTA_TRY(decoder->source.read(decoder->source.from, decoder->raw + decoder->end,
                                      ROOM - decoder->end, &got));
        if (got == 0)
            break;
        decoder->end += got;
    }
    return MUTA_OK;
}

static muta_status choose(muta_decoder *decoder)
{
    char name[NAME_LENGTH];
    const char *encoding = NULL;

    for (size_t i = 0; i < MUTA_LENGTH(marks) && !encoding; i++)
        if (decoder->end >= marks[i].length &&
            memcmp(decoder->raw, marks[i].bytes, marks[i].length) == 0) {
            encoding = marks[i].encoding;
            decoder->from = marks[i].skip;
        }
    if (!encoding) {
        const size_t blank = strspn(decoder->raw, " \t\r\n");
        if (blank > 0 && blank + 5 < decoder->end &&
            memcmp(decoder->raw + blank, "<?xml", 5) == 0) {
            decoder->from = blank;
            muta_diag_add(decoder->diags, MUTA_WARNING, MUTA_NOWHERE,
                          "white space before the XML declaration was skipped");
        }
        declared(decoder->raw + decoder->from, decoder->end - decoder->from, name);
        encoding = name[0] ? name : "UTF-8";
        if (is_wide(encoding)) {
            muta_diag_add(decoder->diags, MUTA_WARNING, MUTA_NOWHERE,
                          "it is called %s but is UTF-8; read as that", encoding);
            encoding = "UTF-8";
        }
    }
    if (muta_text_alike(encoding, "UTF-8") || muta_text_alike(encoding, "US-ASCII"))
        return MUTA_OK;
    decoder->converter = iconv_open("UTF-8", encoding);
    if (decoder->converter != none)
        return MUTA_OK;
    muta_diag_add(decoder->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "the encoding %s is not known; save the score as UTF-8", encoding);
    return MUTA_E_DATA;
}

muta_status muta_decoder_new(muta_source source, muta_diags *diags, muta_decoder **decoder)
{
    muta_decoder *const made = calloc(1, sizeof *made);

    if (!made)
        return MUTA_E_MEMORY;
    made->source = source;
    made->diags = diags;
    made->converter = none;
    made->first = true;
    muta_status status = fill(made);
    if (status == MUTA_OK)
        status = choose(made);
    if (status != MUTA_OK) {
        muta_decoder_free(made);
        return status;
    }
    *decoder = made;
    return MUTA_OK;
}

void muta_decoder_free(muta_decoder *decoder)
{
    if (decoder && decoder->converter != none)
        (void)iconv_close(decoder->converter);
    free(decoder);
}

static muta_status convert(muta_decoder *decoder, char *at, size_t room, size_t *got)
{
    char *in = decoder->raw + decoder->from;
    size_t left = decoder->end - decoder->from;
    char *out = at;
    size_t space = room;

    if (iconv(decoder->converter, &in, &left, &out, &space) == (size_t)-1 && errno != E2BIG &&
        !(errno == EINVAL && (size_t)(out - at) > 0)) {
        muta_diag_add(decoder->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "some bytes are no characters of the encoding that it claims");
        return MUTA_E_DATA;
    }
    decoder->from = (size_t)(in - decoder->raw);
    *got = (size_t)(out - at);
    return MUTA_OK;
}

/* What is given out is UTF-8, and its declaration, which lies whole in the first piece, says so. */
static void relabel(char *at, size_t room, size_t *got)
{
    static const char utf8[] = "UTF-8";
    char name[NAME_LENGTH];

    declared(at, *got, name);
    if (!name[0] || muta_text_alike(name, utf8))
        return;
    char *const old = strstr(strstr(at, "encoding"), name);
    const size_t length = strlen(name);
    const size_t behind = (size_t)(old - at) + length;
    if (*got - length + sizeof utf8 - 1 > room)
        return;
    memmove(old + sizeof utf8 - 1, at + behind, *got - behind);
    memcpy(old, utf8, sizeof utf8 - 1);
    *got = *got - length + sizeof utf8 - 1;
}

muta_status muta_decoder_read(muta_decoder *decoder, char *at, size_t room, size_t *got)
{
    const bool first = decoder->first;

    *got = 0;
    /* A character of several bytes may be cut at the end of what is there. */
    if (!first && decoder->end - decoder->from < LONGEST_CHARACTER)
        MUTA_TRY(fill(decoder));
    decoder->first = false;
    if (decoder->from == decoder->end)
        return MUTA_OK;
    /* A few bytes are held back, so that relabelling has room. */
    room -= NAME_LENGTH;
    if (decoder->converter != none) {
        MUTA_TRY(convert(decoder, at, room, got));
    } else {
        *got = decoder->end - decoder->from < room ? decoder->end - decoder->from : room;
        memcpy(at, decoder->raw + decoder->from, *got);
        decoder->from += *got;
    }
    if (first) {
        at[*got] = '\0';
        relabel(at, room + NAME_LENGTH, got);
    }
    return MUTA_OK;
}
