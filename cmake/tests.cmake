# What the tests need beyond one executable a file: command-line cases, corpora, page tests.

# fuzzers: with clang and TW_FUZZ their main is libFuzzer's; otherwise they replay their corpus and
# some thousand random changes of it as a plain test
get_property(fuzzers GLOBAL PROPERTY TW_FUZZERS)
foreach(fuzzer ${fuzzers})
  string(REPLACE "fuzz_" "" corpus ${fuzzer})
  if(TW_FUZZ)
    target_compile_definitions(${fuzzer} PRIVATE TW_FUZZ_ENGINE)
    target_compile_options(${fuzzer} PRIVATE -fsanitize=fuzzer-no-link)
    target_link_options(${fuzzer} PRIVATE -fsanitize=fuzzer)
  else()
    add_test(NAME fuzz.${corpus} COMMAND ${fuzzer} tests/fuzz/corpus/${corpus} --mutate 100
             WORKING_DIRECTORY ${PROJECT_SOURCE_DIR})
    set_tests_properties(fuzz.${corpus} PROPERTIES LABELS fuzz TIMEOUT 600)
  endif()
endforeach()
