// Arbitrary text as a lesson file: an error in one line, or a lesson whose every task can be played and shown.
#include <string_view>

#include "src/formats/lesson_file.h"
#include "src/system/printable.h"
#include "tests/fuzz/phrase_checks.h"

using namespace landfall;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const auto lesson = parseLesson({reinterpret_cast<const char*>(data), size}, "week.lesson.toml");
    if (!lesson) {
        const std::string& said = lesson.error().message;
        mustHold(said.starts_with("week.lesson.toml:"), "an error names the file");
        mustHold(printable(said) == said && said.size() < 1500,
                 "an error is one short line without control characters");
        return 0;
    }
    mustHold(!lesson->title.empty() && printable(lesson->title) == lesson->title, "its title can be shown");
    mustHold(!lesson->tasks.empty(), "it asks for something");
    for (const LessonTask& task : lesson->tasks) {
        mustHold(task.tries > 0 && !task.name().empty(), "a task asks for tries of something");
        mustHold(printable(task.name() + task.note) == task.name() + task.note, "it can be shown");
        mustHold(!task.aim || (task.aim->value >= 1.0 && task.aim->value <= 100.0), "its aim is one");
        mustHold(!task.tempo || (task.isPhrase() && std::get<Line>(task.what).inTime), "a tempo is a phrase's");
        if (task.isPhrase()) checkPhrase(PhraseFile{std::get<Line>(task.what), {}}, "");
        else mustHold(!std::get<Drill>(task.what).places.empty(), "a drill has a place");
    }
    return 0;
}
