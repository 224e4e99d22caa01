/* crew.h: two threads at one work. Knows no music. */
#ifndef BASE_CREW_H
#define BASE_CREW_H

#include <stdbool.h>
#include <stddef.h>

/* Calls work(context, 0) here and work(context, 1) in a thread beside it, and waits for both. Where
 * no thread is to be had the second is called after the first: neither may wait for the other
 * before both have begun. */
void muta_crew_run(void (*work)(void *context, bool is_beside), void *context);

#endif
