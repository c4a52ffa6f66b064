// doctest's main, but that a test which looks for this machine's sound devices does not start all tests again: the
// audio library's process is this program once more.
#define DOCTEST_CONFIG_IMPLEMENT
#include <doctest/doctest.h>

#include <cstdio>
#include <string_view>

int main(int count, char** words) {
    if (count > 1 && std::string_view(words[1]) == "audio-process") {
        std::fputs("a test program holds no sound device: give LANDFALL_PROGRAM, or devices of the test's own\n",
                   stderr);
        return 1;
    }
    return doctest::Context(count, words).run();
}
