/** xml_start.h: libxml2 made ready, once in a program and by whichever thread comes first. */
#ifndef MUTA_MUSICXML_XML_START_H
#define MUTA_MUSICXML_XML_START_H

/** Comes before every other call into libxml2. Any thread, any number of times. */
void muta_xml_start(void);

#endif
