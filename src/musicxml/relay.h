/*
 * relay.h: hands events from the parser to the tree that grows from them. Those of a short file are
 * kept and handed over at its end; a long one goes over piece by piece to a thread of its own, so
 * that the tree grows while the parser reads on. What comes out is the same.
 */
#ifndef MUSICXML_RELAY_H
#define MUSICXML_RELAY_H

#include "base/buffer.h"
#include "musicxml/growth.h"

typedef struct muta_relay muta_relay;

/* Whole events, to be handed over when there are so many bytes of them. */
typedef struct muta_batch {
    muta_buffer events;
    size_t enough;
} muta_batch;

/* NULL when memory runs out. Borrows: tree, which nobody may use until muta_relay_end. */
muta_relay *muta_relay_new(muta_tree *tree);
/* The batch that the next event is written to, behind what is there. */
muta_batch *muta_relay_batch(muta_relay *relay);
/*
 * Hands over that batch, in which there is enough; from here on there is another one. The first
 * failure, here or of those handed over before.
 */
muta_status muta_relay_pass(muta_relay *relay) MUTA_CHECK;
/* Hands over what is left and waits until the tree has grown from all of it. */
muta_status muta_relay_end(muta_relay *relay) MUTA_CHECK;
void muta_relay_free(muta_relay *relay);

#endif
