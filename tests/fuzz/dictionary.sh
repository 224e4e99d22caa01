#!/bin/sh
# dictionary.sh TOP: the names of elements and attributes that the program knows, for libFuzzer.
sed -n 's/^ *X([A-Z0-9_]*, "\([a-z0-9-]*\)").*/"\1"/p' "$1/src/musicxml/names.h" | sort -u
printf '"<note>"\n"</note>"\n"<measure number=\\"1\\">"\n"</measure>"\n"start"\n"stop"\n"<chord/>"\n"<grace/>"\n"<cue/>"\n"<rest/>"\n'
