// Phrase files: MusicXML 4.0 (W3C Community Group, 2021) with string and fret numbers, or TOML
// (src/phrases/let_it_fall.toml explains it), read as a line of moves; and the phrases built into the program.
// doc/rooms.md tells what is a move. Plain functions, any thread.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "src/music/line.h"
#include "src/system/result.h"

namespace landfall {

struct PhraseFile {
    Line line;
    std::vector<std::string> notUnderstood;  // what else the score asks, each kind with its bars
    std::string text{};                      // of a file that was read; empty of a built-in one
};

// A phrase that cannot be read or played is refused: "tune.musicxml: bar 3, beat 2: reason; remedy". A name that ends in
// .toml is read as TOML.
Result<PhraseFile> parsePhrase(std::string_view text, std::string_view fileName);
Result<PhraseFile> readPhrase(const std::filesystem::path& path);

// In the order in which a player meets them; and the file that one was made from, empty for a title that is none.
const std::vector<PhraseFile>& builtInPhrases();
std::string_view builtInPhraseText(std::string_view title);

// The player's own: the .musicxml and .toml files of a folder by name, and one line for each that cannot be used.
struct OwnPhrases {
    std::vector<PhraseFile> phrases;
    std::vector<std::string> problems;
};
OwnPhrases ownPhrases(const std::filesystem::path& folder);
// phrases in the platform's data folder.
Result<std::filesystem::path> ownPhrasesFolder();

// A built-in phrase by title, or one of the player's own. Unknown: the nearest titles.
Result<PhraseFile> phraseNamed(std::string_view title);
// The same, or else a file by path.
Result<PhraseFile> findPhrase(std::string_view titleOrPath);

}  // namespace landfall
