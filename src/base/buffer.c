/* buffer.c: bytes that grow. */
#include "base/buffer.h"
#include <stdlib.h>
#include <string.h>

enum {
    FEWEST = 1024
};

muta_status muta_buffer_reserve(muta_buffer *buffer, size_t length)
{
    size_t room = buffer->room ? buffer->room : FEWEST;

    while (room - buffer->length <= length)
        room *= 2;
    if (room == buffer->room)
        return MUTA_OK;
    char *const grown = realloc(buffer->at, room);
    if (!grown)
        return MUTA_E_MEMORY;
    buffer->at = grown;
    buffer->room = room;
    return MUTA_OK;
}

muta_status muta_buffer_put(muta_buffer *buffer, const char *at, size_t length)
{
    if (length == 0)
        return MUTA_OK;
    if (length >= buffer->room - buffer->length)
        MUTA_TRY(muta_buffer_reserve(buffer, length));
    memcpy(buffer->at + buffer->length, at, length);
    buffer->length += length;
    buffer->at[buffer->length] = '\0';
    return MUTA_OK;
}

muta_status muta_buffer_write(void *buffer, const char *at, size_t length)
{
    return muta_buffer_put(buffer, at, length);
}
