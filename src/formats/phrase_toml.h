// Phrase files in TOML; src/phrases/let_it_fall.toml explains the format. Plain functions, any thread.
#pragma once

#include <string_view>

#include "src/formats/phrase_file.h"

namespace landfall {

// Errors name file, line, column, what was expected, and of what cannot be played bar, beat and reason.
Result<PhraseFile> parsePhraseToml(std::string_view toml, std::string_view fileName);

}  // namespace landfall
