/* vec.h: growing arrays { at, count, room } in an arena, doubled when full. */
#ifndef BASE_VEC_H
#define BASE_VEC_H

#include "base/arena.h"
#include <string.h>

#define MUTA_VEC(type)                                                                             \
    struct {                                                                                       \
        type *at;                                                                                  \
        size_t count;                                                                              \
        size_t room;                                                                               \
    }

/*
 * Makes room for `more` further items of an array, which moves if need be; false when memory runs
 * out, and then all stays as it was.
 * @param at  where the array's address is kept
 */
bool muta_vec_grow(muta_arena *arena, void *at, size_t count, size_t *room, size_t more,
                   size_t bytes);

/* Makes room for `more` further items; false when memory runs out. */
#define MUTA_RESERVE(arena, vec, more)                                                             \
    muta_vec_grow(arena, &(vec)->at, (vec)->count, &(vec)->room, more, sizeof *(vec)->at)

/* A pointer to a new last item, zeroed; NULL when memory runs out. */
#define MUTA_PUSH(arena, vec)                                                                      \
    (MUTA_RESERVE(arena, vec, 1)                                                                   \
         ? (memset(&(vec)->at[(vec)->count], 0, sizeof *(vec)->at), &(vec)->at[(vec)->count++])    \
         : NULL)

/* Sorts items, which are in order already as a rule: then nothing moves. */
void muta_sort(void *at, size_t count, size_t size, int (*compare)(const void *, const void *));

#endif
