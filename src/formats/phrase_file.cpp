#include "src/formats/phrase_file.h"

#include <system_error>
#include <utility>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/formats/built_in_files.h"
#include "src/formats/phrase_moves.h"
#include "src/formats/phrase_toml.h"
#include "src/formats/tablature.h"
#include "src/formats/text_file.h"
#include "src/formats/toml_text.h"
#include "src/music/name_match.h"
#include "src/system/machine.h"
#include "src/system/printable.h"

namespace landfall {

Result<PhraseFile> parsePhrase(std::string_view text, std::string_view fileName) {
    if (fileName.ends_with(".toml")) return parsePhraseToml(text, fileName);
    auto score = parseTablature(text, fileName);
    if (!score) return score.error();
    if (score->title.empty()) score->title = printable(std::filesystem::path(fileName).stem().string());
    return phraseOf(std::move(*score), fileName);
}

Result<PhraseFile> readPhrase(const std::filesystem::path& path) {
    const bool toml = path.extension() == ".toml";
    const auto text =
        readTextFile(path, toml ? largestTomlFile : largestScore, toml ? "a phrase file" : "a .musicxml file");
    if (!text) return text.error();
    auto phrase = parsePhrase(*text, path.string());
    if (phrase) phrase->text = *text;
    return phrase;
}

const std::vector<PhraseFile>& builtInPhrases() {
    static const std::vector<PhraseFile> phrases = [] {
        std::vector<PhraseFile> read;
        for (const BuiltInFile& file : builtInPhraseFiles())
            if (auto phrase = parsePhrase(file.text, file.name)) read.push_back(std::move(*phrase));
        return read;
    }();
    return phrases;
}

std::string_view builtInPhraseText(std::string_view title) {
    for (const BuiltInFile& file : builtInPhraseFiles())
        if (const auto phrase = parsePhrase(file.text, file.name);
            phrase && matchKey(phrase->line.title) == matchKey(title))
            return file.text;
    return {};
}

OwnPhrases ownPhrases(const std::filesystem::path& folder) {
    OwnPhrases own;
    std::vector<std::string> told;  // of the folder itself: once
    for (const char* extension : {".musicxml", ".toml"})
        for (const auto& file :
             filesIn(folder, extension, *extension == '.' && extension[1] == 'm' ? own.problems : told)) {
            auto phrase = readPhrase(file);
            if (phrase) own.phrases.push_back(std::move(*phrase));
            else own.problems.push_back(phrase.error().message);
        }
    return own;
}

Result<std::filesystem::path> ownPhrasesFolder() {
    auto folder = dataFolder();
    if (!folder) return folder;
    return *folder / "phrases";
}

Result<PhraseFile> phraseNamed(std::string_view title) {
    std::vector<std::string> titles;
    for (const PhraseFile& phrase : builtInPhrases()) {
        if (matchKey(phrase.line.title) == matchKey(title)) return phrase;
        titles.push_back(phrase.line.title);
    }
    if (const auto folder = ownPhrasesFolder())
        for (PhraseFile& phrase : ownPhrases(*folder).phrases) {
            if (matchKey(phrase.line.title) == matchKey(title)) return std::move(phrase);
            titles.push_back(phrase.line.title);
        }
    auto nearest = nearestNames(title, titles);
    if (nearest.empty()) nearest = titles;
    return Error{Error::Code::notFound, fmt::format("no phrase '{}': nearest are '{}'; `landfall phrases` lists all",
                                                    printable(title), fmt::join(nearest, "', '"))};
}

Result<PhraseFile> findPhrase(std::string_view titleOrPath) {
    auto named = phraseNamed(titleOrPath);
    if (named) return named;
    const bool looksLikePath = titleOrPath.find('/') != std::string_view::npos || titleOrPath.ends_with("xml")
                               || titleOrPath.ends_with(".mxl") || titleOrPath.ends_with(".toml");
    std::error_code code;
    if (looksLikePath || std::filesystem::is_regular_file(titleOrPath, code)) return readPhrase(titleOrPath);
    return Error{Error::Code::notFound, named.error().message + ", a phrase file ends in .musicxml or .toml"};
}

}  // namespace landfall
