// Names the moves of a tablature as it is played: repeats written out, ties joined, each target one move; and says what
// cannot be played. doc/rooms.md has the rules. Plain functions, any thread.
#pragma once

#include <string_view>

#include "src/formats/phrase_file.h"
#include "src/formats/tablature.h"

namespace landfall {

Result<PhraseFile> phraseOf(Tablature score, std::string_view fileName);

}  // namespace landfall
