/* decode.h: bytes in any encoding that is marked or declared to UTF-8. */
#ifndef MUSICXML_DECODE_H
#define MUSICXML_DECODE_H

#include "musicxml/parse.h"

typedef struct muta_decoder muta_decoder;

/*
 * Looks at the first bytes: a byte order mark counts most, then zero bytes, then the declaration.
 * MUTA_E_DATA when the declared encoding is unknown.
 */
muta_status muta_decoder_new(muta_source source, muta_diags *diags,
                             muta_decoder **decoder) MUTA_CHECK;
/* Ends it; takes NULL. */
void muta_decoder_free(muta_decoder *decoder);
/* Gives UTF-8 without byte order mark, its declaration saying so; *got is 0 at the end. */
muta_status muta_decoder_read(muta_decoder *decoder, char *at, size_t room, size_t *got) MUTA_CHECK;

#endif
