// Lesson files (TOML): what a teacher asks of a student; src/lessons/first_full_steps.lesson.toml explains the format.
// Plain functions, any thread.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "src/music/lesson.h"
#include "src/system/result.h"

namespace landfall {

// Errors name file, line, column and what was expected, as those of drill files do. Drills and phrases that are only
// named are looked for among the built-in ones and the student's own, never by path: a lesson comes from elsewhere.
Result<Lesson> parseLesson(std::string_view toml, std::string_view fileName);

struct LessonFile {
    Lesson lesson;
    std::string text;  // of the file, as it is kept
};
Result<LessonFile> readLessonFile(const std::filesystem::path& path);

}  // namespace landfall
