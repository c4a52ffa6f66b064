// Child processes, shared memory and folders, on the operating system the tests run on.
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <string>

#include <doctest/doctest.h>
#include <fcntl.h>
#include <fmt/core.h>
#include <signal.h>
#include <unistd.h>

#include "src/system/child_process.h"
#include "src/system/machine.h"
#include "tests/support/command.h"
#include "tests/support/program.h"

using namespace landfall;
using namespace landfall::test;

namespace {

// Sets a variable of the environment for one test.
struct Variable {
    std::string name;
    std::string before;
    Variable(std::string variable, const std::filesystem::path& value) : name(std::move(variable)) {
        if (const char* old = std::getenv(name.c_str())) before = old;
        ::setenv(name.c_str(), value.c_str(), 1);
    }
    ~Variable() { before.empty() ? ::unsetenv(name.c_str()) : ::setenv(name.c_str(), before.c_str(), 1); }
};

SharedMemory someMemory() {
    auto memory = SharedMemory::create(4096);
    REQUIRE(memory);
    return std::move(*memory);
}

}  // namespace

TEST_CASE("A child that ends is told with its status, one that is killed with the signal") {
    const SharedMemory memory = someMemory();
    auto child = ChildProcess::start("/bin/sh", {"-c", "exit 3"}, memory);
    REQUIRE(child);
    REQUIRE(within(5.0, [&] { return !child->running(); }));
    CHECK(child->ending() == "it ended with status 3");

    auto sleeper = ChildProcess::start("/bin/sh", {"-c", "exec sleep 100"}, memory);
    REQUIRE(sleeper);
    CHECK(sleeper->running());
    sleeper->kill();
    REQUIRE(within(5.0, [&] { return !sleeper->running(); }));
    CHECK(sleeper->ending() == "it was ended by signal 9");
}

TEST_CASE("A program that is not there is one line with its name") {
    const auto child = ChildProcess::start("/nowhere/landfall", {}, someMemory());
    REQUIRE_FALSE(child);
    CHECK(child.error().message == "/nowhere/landfall: cannot be started: No such file or directory");
}

TEST_CASE("The child shares the memory with its parent, without a name that could be left behind") {
    const SharedMemory memory = someMemory();
    std::strcpy(static_cast<char*>(memory.data()), "from the parent");
    auto child = ChildProcess::start(
        "/bin/sh", {"-c", "grep -qa '^from the parent' /proc/self/fd/3 && printf 'from the child' 1<>/proc/self/fd/3"},
        memory);
    REQUIRE(child);
    REQUIRE(within(5.0, [&] { return !child->running(); }));
    CHECK(child->ending() == "it ended with status 0");
    CHECK(std::string(static_cast<char*>(memory.data())) == "from the childt");
}

TEST_CASE("Other descriptors of the parent are not open in the child") {
    const int descriptor = ::fcntl(1, F_DUPFD, 50);
    auto child =
        ChildProcess::start("/bin/sh", {"-c", fmt::format("test ! -e /proc/self/fd/{}", descriptor)}, someMemory());
    REQUIRE(child);
    REQUIRE(within(5.0, [&] { return !child->running(); }));
    ::close(descriptor);
    CHECK(child->ending() == "it ended with status 0");
}

TEST_CASE("A child that is let go of is gone at once") {
    pid_t id = -1;
    {
        auto child = ChildProcess::start("/bin/sleep", {"100"}, someMemory());
        REQUIRE(child);
        id = static_cast<pid_t>(child->id());
        CHECK(::kill(id, 0) == 0);
    }
    CHECK(::kill(id, 0) != 0);
}

TEST_CASE("The hidden command without a parent says that it is for the program's own use") {
    const CommandOutcome outcome = runCommand(fmt::format("{} audio-process 2>&1 3</dev/null", LANDFALL_PROGRAM));
    CHECK(outcome.status == 1);
    CHECK(outcome.output == "landfall: no memory from a parent process: this command is for the program's own use\n");
}

TEST_CASE(
    "Folders follow the XDG Base Directory Specification 0.8: the variable, else under home; a relative path is "
    "ignored") {
    const TestFolder folder;
    const Variable home("HOME", folder / "home");
    {
        const Variable config("XDG_CONFIG_HOME", folder / "config");
        const Variable data("XDG_DATA_HOME", "relative/path");
        CHECK(*settingsFolder() == folder / "config/landfall");
        CHECK(*dataFolder() == folder / "home/.local/share/landfall");
    }
    const Variable config("XDG_CONFIG_HOME", "");
    CHECK(*settingsFolder() == folder / "home/.config/landfall");
    CHECK(std::filesystem::is_directory(folder / "home/.config/landfall"));
}

TEST_CASE("A folder that cannot be made is named with the variable that would move it") {
    const TestFolder folder;
    FILE* file = std::fopen((folder / "file").c_str(), "w");
    std::fclose(file);
    const Variable data("XDG_DATA_HOME", folder / "file");
    const auto made = dataFolder();
    REQUIRE_FALSE(made);
    CHECK(made.error().message.find((folder / "file/landfall").string()) == 0);
    CHECK(made.error().message.find("XDG_DATA_HOME") != std::string::npos);
}
