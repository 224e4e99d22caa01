/* buffer.h: bytes that grow, for text whose length nobody knows beforehand. */
#ifndef BASE_BUFFER_H
#define BASE_BUFFER_H

#include "mutanza/status.h"
#include <stddef.h>

typedef struct muta_buffer {
    char *at; /* terminated once anything was put in; ended with free() */
    size_t length;
    size_t room;
} muta_buffer;

/* Makes room for so many bytes more behind what is there, and a terminator. */
muta_status muta_buffer_reserve(muta_buffer *buffer, size_t length) MUTA_CHECK;
/* Puts bytes behind what is there; MUTA_E_MEMORY leaves it as it was. */
muta_status muta_buffer_put(muta_buffer *buffer, const char *at, size_t length) MUTA_CHECK;
/* The same as the `write` of a muta_sink whose `to` is a buffer. */
muta_status muta_buffer_write(void *buffer, const char *at, size_t length) MUTA_CHECK;

#endif
