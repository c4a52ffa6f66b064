#include "src/formats/lesson_file.h"

#include <algorithm>
#include <sstream>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/formats/drill_file.h"
#include "src/formats/phrase_file.h"
#include "src/formats/text_file.h"
#include "src/formats/toml_reader.h"
#include "src/formats/toml_text.h"
#include "src/music/name_match.h"
#include "src/system/replace_file.h"

namespace landfall {

namespace {

constexpr const char* lessonEnding = ".lesson.toml";

class LessonReader : public TomlReader {
public:
    explicit LessonReader(std::string_view name) : TomlReader(name), file(name) {}

    Lesson read(const toml::table& table) {
        Lesson lesson;
        checkKeys(table, {"title", "from", "note", "task"});
        lesson.title = text(table, "title", longestLessonTitle, true);
        lesson.from = text(table, "from", longestLessonTitle, false);
        lesson.note = text(table, "note", longestLessonNote, false);
        const auto all = tables(table, "task");
        if (all.size() > mostLessonTasks)
            fail(*all[mostLessonTasks], fmt::format("more than {} tasks: make two lessons of it", mostLessonTasks));
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
        task.note = text(table, "note", longestLessonNote, false);
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
        auto drill = whole ? drillIn(*whole, file) : drillNamed(text(table, "drill", longestLessonTitle, true));
        if (failure) return;
        if (!drill && !whole) return fail(node, drill.error().message + ", or put it into the lesson, as [task.drill]");
        if (!drill) return take(drill.error());
        if (whole) checkOwnName(node, "drill", drill->name, !builtInDrillText(drill->name).empty());
        task.tries = totalTries(*drill);
        task.what = std::move(*drill);
    }

    void readPhrase(const toml::table& table, const toml::node& node, LessonTask& task) {
        task.tries = usualLessonPasses;
        if (const toml::table* whole = node.as_table()) {
            auto line = phraseIn(*whole, file);
            if (!line) return take(line.error());
            checkOwnName(node, "phrase", line->title, !builtInPhraseText(line->title).empty());
            task.what = std::move(*line);
            return;
        }
        const std::string title = text(table, "phrase", longestLessonTitle, true);
        if (failure) return;
        auto phrase = phraseNamed(title);
        if (!phrase) return fail(node, phrase.error().message + ", or put it into the lesson, as [task.phrase]");
        task.what = std::move(phrase->line);
    }

    // A MusicXML file's text, whole.
    void readScore(const toml::node& node, LessonTask& task) {
        task.tries = usualLessonPasses;
        const auto score = node.value_exact<std::string>();
        if (!score) return fail(node, "'score' must be the text of a .musicxml file: expected score = '''...'''");
        auto phrase = parsePhrase(*score, "score.musicxml");
        if (!phrase) return fail(node, phrase.error().message);
        if (characterCount(phrase->line.title) > longestLessonTitle)
            return fail(node, fmt::format("the score's title has more than {} characters", longestLessonTitle));
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
        task.tries = whole(table, count, 1, task.isPhrase() ? mostLessonPasses : mostLessonTries, task.tries);
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

// Text of our own making.
toml::table tableOf(const std::string& text) { return toml::parse(text); }

toml::table taskTable(const LessonTask& task, std::span<const PhraseFile> own) {
    toml::table table;
    if (const Drill* drill = std::get_if<Drill>(&task.what)) {
        if (builtInDrillText(drill->name).empty()) table.insert("drill", tableOf(drillAsToml(*drill)));
        else table.insert("drill", drill->name);
    } else {
        const auto at = std::ranges::find(own, task.name(), [](const PhraseFile& each) { return each.line.title; });
        if (at == own.end()) table.insert("phrase", task.name());
        else if (parsePhrase(at->text, "phrase.toml")) table.insert("phrase", tableOf(at->text));
        else table.insert("score", at->text);
    }
    table.insert(task.isPhrase() ? "passes" : "tries", task.tries);
    if (task.aim) table.insert("aim", task.aim->value);
    if (task.inside) table.insert("inside", *task.inside);
    if (task.tempo) table.insert("tempo", *task.tempo);
    if (!task.note.empty()) table.insert("note", task.note);
    return table;
}

bool isSame(const Lesson& one, const Lesson& other) {
    return one.title == other.title && one.note == other.note
           && std::ranges::equal(one.tasks, other.tasks, [](const LessonTask& a, const LessonTask& b) {
                  return a.name() == b.name() && a.tries == b.tries && a.isPhrase() == b.isPhrase();
              });
}

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

Result<std::string> lessonAsToml(const Lesson& lesson, std::span<const PhraseFile> ownPhrases) {
    toml::table table{{"title", lesson.title}};
    if (!lesson.from.empty()) table.insert("from", lesson.from);
    if (!lesson.note.empty()) table.insert("note", lesson.note);
    toml::array tasks;
    for (const LessonTask& each : lesson.tasks) tasks.push_back(taskTable(each, ownPhrases));
    table.insert("task", std::move(tasks));
    std::ostringstream text;
    text << "# A lesson: the student drops it on Landfall's window, or says `landfall open FILE`.\n\n" << table << "\n";
    if (text.str().size() > largestTomlFile)
        return Error{Error::Code::badInput, "the lesson is too large to send: leave the longest phrase out"};
    const auto back = parseLesson(text.str(), lesson.title);
    if (!back) return back.error();
    if (!isSame(lesson, *back))
        return Error{Error::Code::badInput, "a phrase without a title of its own cannot be sent: give it one"};
    return text.str();
}

Result<std::filesystem::path> saveLesson(const std::filesystem::path& folder, const Lesson& lesson,
                                         std::span<const PhraseFile> ownPhrases, const std::filesystem::path& before) {
    const auto text = lessonAsToml(lesson, ownPhrases);
    if (!text) return text.error();
    std::error_code code;
    std::filesystem::create_directories(folder, code);
    if (code)
        return Error{Error::Code::unwritable,
                     fmt::format("{}: {}; the lesson is not saved", folder.string(), code.message())};
    const std::string name = fileNameFor(matchKey(lesson.title));
    std::filesystem::path file = folder / (name + lessonEnding);
    for (int i = 2; file != before && std::filesystem::exists(file, code); ++i)
        file = folder / fmt::format("{}-{}{}", name, i, lessonEnding);
    if (auto kept = replaceFile(file, *text); !kept) return kept.error();
    return file;
}

std::vector<std::filesystem::path> savedLessons(const std::filesystem::path& folder) {
    std::vector<std::pair<std::filesystem::file_time_type, std::filesystem::path>> found;
    std::error_code code;
    for (auto at = std::filesystem::directory_iterator(folder, code); !code && at != std::filesystem::end(at);
         at.increment(code)) {
        std::error_code gone;
        const auto written = at->last_write_time(gone);
        if (!gone && at->path().string().ends_with(lessonEnding)) found.emplace_back(written, at->path());
    }
    std::ranges::sort(found, std::greater{});
    std::vector<std::filesystem::path> paths;
    for (auto& [written, path] : found) paths.push_back(std::move(path));
    return paths;
}

}  // namespace landfall
