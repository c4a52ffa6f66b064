# cmake -D NAME=... -D PROGRAM=... -D PROPERTIES=... -D LIST=... -P list_tests.cmake: every test case of a test program becomes a test of ctest's. One whose name
# finds no test case fails: a test that runs nothing would pass.
execute_process(COMMAND ${PROGRAM} --list-test-cases OUTPUT_VARIABLE said COMMAND_ERROR_IS_FATAL ANY)
set(list "")
while(said MATCHES "^([^\n]*)\n(.*)$")
  set(case "${CMAKE_MATCH_1}")
  set(said "${CMAKE_MATCH_2}")
  if(case MATCHES "^(\\[doctest\\]|===)")
    continue()
  endif()
  string(REPLACE "," "\\," filter "${case}")  # a comma parts two filters
  string(APPEND list "add_test([==[${NAME}:${case}]==] [==[${PROGRAM}]==] [==[--test-case=${filter}]==])\n"
    "set_tests_properties([==[${NAME}:${case}]==] PROPERTIES FAIL_REGULAR_EXPRESSION [==[test cases: +0 [|]]==] ${PROPERTIES})\n")
endwhile()
file(WRITE ${LIST} "${list}")
