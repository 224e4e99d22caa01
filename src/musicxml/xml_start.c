/* xml_start.c: libxml2's first call is the only one that two threads must not make at one time. */
#include "musicxml/xml_start.h"
#include <libxml/parser.h>
#include <pthread.h>

static pthread_once_t once = PTHREAD_ONCE_INIT;

void muta_xml_start(void)
{
    (void)pthread_once(&once, xmlInitParser);
}
