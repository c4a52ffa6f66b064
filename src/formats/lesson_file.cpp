#include "src/formats/lesson_file.h"

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/formats/drill_file.h"
#include "src/formats/phrase_file.h"
#include "src/formats/text_file.h"
#include "src/formats/toml_reader.h"
#include "src/formats/toml_text.h"
#include "src/music/name_match.h"

namespace landfall {

namespace {

constexpr std::size_t longestTitle = 60, longestNote = 600;  // characters
constexpr std::size_t mostTasks = 12;                        // more than anybody keeps in mind for a week
constexpr int mostTries = 300, mostPasses = 100;             // six days of fifty tries: a hand's week and more
constexpr int usualPasses = 3;

class LessonReader : public TomlReader {
public:
    explicit LessonReader(std::string_view name) : TomlReader(name), file(name) {}

    Lesson read(const toml::table& table) {
        Lesson lesson;
        checkKeys(table, {"title", "from", "note", "task"});
        lesson.title = text(table, "title", longestTitle, true);
        lesson.from = text(table, "from", longestTitle, false);
        lesson.note = text(table, "note", longestNote, false);
        const auto all = tables(table, "task");
        if (all.size() > mostTasks)
            fail(*all[mostTasks], fmt::format("more than {} tasks: make two lessons of it", mostTasks));
        for (const toml::table* each : all)
            if (!failure) lesson.tasks.push_back(readTask(*each, lesson));
        return lesson;
    }

private:
    LessonTask readTask(const toml::table& table, const Lesson& before) {
        checkKeys(table, {"drill", "phrase", "score", "tries", "passes", "aim", "inside", "tempo", "note"});
        LessonTask task;
        readWhat(table, task);
        if (failure) return task;
        for (const LessonTask& other : before.tasks)
            if (matchKey(other.name()) == matchKey(task.name()))
                fail(table, fmt::format("'{}' is asked for twice: ask for more tries of it", task.name()));
        readGoals(table, task);
        task.note = text(table, "note", longestNote, false);
        return task;
    }

    // One of a drill, a phrase and a score; each by name, or as a file of its own would have it.
    void readWhat(const toml::table& table, LessonTask& task) {
        int given = 0;
        for (const char* key : {"drill", "phrase", "score"}) given += table.get(key) ? 1 : 0;
        if (given != 1)
            return fail(table, fmt::format("a task is one drill or one phrase, not {}: expected drill = \"Half up\", "
                                           "or phrase = \"Lantern Street\"",
                                           given == 0 ? "none" : "several"));
        if (const toml::node* node = table.get("drill")) readDrill(table, *node, task);
        else if (const toml::node* phrase = table.get("phrase")) readPhrase(table, *phrase, task);
        else readScore(*table.get("score"), task);
    }

    void readDrill(const toml::table& table, const toml::node& node, LessonTask& task) {
        const toml::table* whole = node.as_table();
        auto drill = whole ? drillIn(*whole, file) : drillNamed(text(table, "drill", longestTitle, true));
        if (failure) return;
        if (!drill && !whole) return fail(node, drill.error().message + ", or put it into the lesson, as [task.drill]");
        if (!drill) return take(drill.error());
        if (whole) checkOwnName(node, "drill", drill->name, !builtInDrillText(drill->name).empty());
        task.tries = totalTries(*drill);
        task.what = std::move(*drill);
    }

    void readPhrase(const toml::table& table, const toml::node& node, LessonTask& task) {
        task.tries = usualPasses;
        if (const toml::table* whole = node.as_table()) {
            auto line = phraseIn(*whole, file);
            if (!line) return take(line.error());
            checkOwnName(node, "phrase", line->title, !builtInPhraseText(line->title).empty());
            task.what = std::move(*line);
            return;
        }
        const std::string title = text(table, "phrase", longestTitle, true);
        if (failure) return;
        auto phrase = phraseNamed(title);
        if (!phrase) return fail(node, phrase.error().message + ", or put it into the lesson, as [task.phrase]");
        task.what = std::move(phrase->line);
    }

    // A MusicXML file's text, whole.
    void readScore(const toml::node& node, LessonTask& task) {
        task.tries = usualPasses;
        const auto score = node.value_exact<std::string>();
        if (!score) return fail(node, "'score' must be the text of a .musicxml file: expected score = '''...'''");
        auto phrase = parsePhrase(*score, "score.musicxml");
        if (!phrase) return fail(node, phrase.error().message);
        if (characterCount(phrase->line.title) > longestTitle)
            return fail(node, fmt::format("the score's title has more than {} characters", longestTitle));
        checkOwnName(node, "phrase", phrase->line.title, !builtInPhraseText(phrase->line.title).empty());
        task.what = std::move(phrase->line);
    }

    // What is played is known by its name.
    void checkOwnName(const toml::node& node, const char* kind, const std::string& name, bool builtIn) {
        if (builtIn)
            fail(node, fmt::format("the {0} '{1}' is built in: write {0} = \"{1}\" to ask for it, or give yours "
                                   "another name",
                                   kind, name));
    }

    void readGoals(const toml::table& table, LessonTask& task) {
        const char* const other = task.isPhrase() ? "tries" : "passes";
        const char* const count = task.isPhrase() ? "passes" : "tries";
        if (const toml::node* node = table.get(other))
            return fail(*node, fmt::format("'{}' is for {}; of this one write '{}'", other,
                                           task.isPhrase() ? "drills" : "phrases", count));
        task.tries = whole(table, count, 1, task.isPhrase() ? mostPasses : mostTries, task.tries);
        if (table.get("aim")) task.aim = Cents(number(table, "aim", 1.0, 100.0, 25.0));
        if (table.get("inside")) task.inside = whole(table, "inside", 1, 100, 50);
        const toml::node* tempo = table.get("tempo");
        if (!tempo) return;
        if (!task.isPhrase() || !std::get<Line>(task.what).inTime)
            return fail(*tempo, fmt::format("'tempo' is for a phrase with beats; '{}' has none", task.name()));
        task.tempo = numberNode(*tempo, "tempo", 20.0, 400.0);
    }

    // Of a drill or phrase that stands in the file; it names its place already.
    void take(const Error& error) {
        if (!failure) failure = error;
    }

    std::string_view file;
};

}  // namespace

Result<Lesson> parseLesson(std::string_view toml, std::string_view fileName) {
    const auto table = tomlTable(toml, fileName);
    if (!table) return table.error();
    LessonReader reader(fileName);
    Lesson lesson = reader.read(*table);
    if (reader.failure) return *reader.failure;
    return lesson;
}

Result<LessonFile> readLessonFile(const std::filesystem::path& path) {
    auto text = readTextFile(path, largestTomlFile, "a lesson file");
    if (!text) return text.error();
    auto lesson = parseLesson(*text, path.string());
    if (!lesson) return lesson.error();
    return LessonFile{std::move(*lesson), std::move(*text)};
}

}  // namespace landfall
