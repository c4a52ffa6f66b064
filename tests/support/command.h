// Runs other programs from a test, and gives it a folder of its own that goes away afterwards. One thread a test.
#pragma once

#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

namespace landfall {

struct CommandOutcome {
    int status = -1;     // exit status; 128 + n where signal n ended it
    std::string output;  // standard output, and whatever of standard error the command line sends there
};

// `line` goes to /bin/sh.
inline CommandOutcome runCommand(const std::string& line) {
    CommandOutcome outcome;
    std::FILE* pipe = popen(line.c_str(), "r");
    if (!pipe) return outcome;
    std::array<char, 4096> block{};
    while (const std::size_t got = std::fread(block.data(), 1, block.size(), pipe))
        outcome.output.append(block.data(), got);
    const int ended = pclose(pipe);
    outcome.status = WIFEXITED(ended) ? WEXITSTATUS(ended) : 128 + WTERMSIG(ended);
    return outcome;
}

// A fresh folder, removed with everything in it at the end of the test.
class TestFolder {
public:
    TestFolder() {
        std::string pattern = (std::filesystem::temp_directory_path() / "landfall-test-XXXXXX").string();
        if (!mkdtemp(pattern.data())) std::abort();
        path = pattern;
    }
    TestFolder(const TestFolder&) = delete;
    TestFolder& operator=(const TestFolder&) = delete;
    ~TestFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path, ignored);
    }
    std::filesystem::path operator/(const std::string& name) const { return path / name; }

    std::filesystem::path path;
};

inline std::string readText(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

inline void writeText(const std::filesystem::path& file, const std::string& text) {
    std::ofstream(file, std::ios::binary | std::ios::trunc) << text;
}

}  // namespace landfall
