// Lesson files (TOML): what a teacher asks of a student; src/lessons/first_full_steps.lesson.toml explains the format.
// Plain functions, any thread.
#pragma once

#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "src/formats/phrase_file.h"
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

// Longest of a lesson's title and teacher, and of its notes, in characters; the most tasks, tries and passes.
constexpr std::size_t longestLessonTitle = 60, longestLessonNote = 600, mostLessonTasks = 12;
constexpr int mostLessonTries = 300, mostLessonPasses = 100, usualLessonPasses = 3;

// The lesson as a file that readLessonFile reads back anywhere: what is built in is named, the rest goes with it, phrases
// as their file's text. Fails where that is not the same lesson: a score without a title, a file too large to send.
Result<std::string> lessonAsToml(const Lesson& lesson, std::span<const PhraseFile> ownPhrases = {});

// Writes it into the folder, which is made where there is none, under its title; returns the file. Only `before` is
// replaced, where it is this lesson's own file: another of that name stays, and this one is numbered.
Result<std::filesystem::path> saveLesson(const std::filesystem::path& folder, const Lesson& lesson,
                                         std::span<const PhraseFile> ownPhrases = {},
                                         const std::filesystem::path& before = {});

// Those that were saved there, the latest written first.
std::vector<std::filesystem::path> savedLessons(const std::filesystem::path& folder);

}  // namespace landfall
