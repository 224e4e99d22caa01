/* arena.h: memory with one owner; freeing the owner frees all. */
#ifndef BASE_ARENA_H
#define BASE_ARENA_H

#include <stdbool.h>
#include <stddef.h>

typedef struct muta_arena_chunk muta_arena_chunk;

typedef struct muta_arena {
    muta_arena_chunk *last; /* the chunk that is being filled; each leads to the one before */
    size_t bytes;           /* taken from the system so far */
} muta_arena;

/* Makes an empty arena; it takes no memory yet. */
void muta_arena_init(muta_arena *arena);
/* Gives all of it back. */
void muta_arena_clear(muta_arena *arena);
/* Zeroed bytes, aligned for any type; NULL when memory runs out. */
void *muta_arena_take(muta_arena *arena, size_t bytes);
/* count zeroed items of `bytes` each; NULL when memory runs out or the product overflows. */
void *muta_arena_take_array(muta_arena *arena, size_t count, size_t bytes);
/* The same not zeroed, for what is filled in item by item. */
void *muta_arena_take_blank(muta_arena *arena, size_t count, size_t bytes);
/* Lets what was given out last grow where it stands; false when it cannot. */
bool muta_arena_extend(muta_arena *arena, const void *newest, size_t bytes, size_t wanted);
/* A terminated copy of the bytes, unaligned and packed; NULL when memory runs out. */
char *muta_arena_copy_text(muta_arena *arena, const char *at, size_t length);

/* Makes every allocation after the next `count` fail, for the fault tests; -1 never fails. */
void muta_arena_fail_after(long count);

#endif
