# Installs into a fresh prefix, moves it, and builds and runs a stranger's project against it.
# cmake -DSOURCE=… -DBUILD=… -DSCRATCH=… -DCONFIG=… -DGENERATOR=… -DCOMPILER=… -DLAUNCHER=… -P install_test.cmake
function(run what)
  execute_process(COMMAND ${ARGN} RESULT_VARIABLE code OUTPUT_VARIABLE output ERROR_VARIABLE output)
  if(NOT code EQUAL 0)
    message(FATAL_ERROR "${what} failed:\n${output}")
  endif()
endfunction()

file(REMOVE_RECURSE ${SCRATCH})
run("Installing" ${CMAKE_COMMAND} --install ${BUILD} --config ${CONFIG} --prefix ${SCRATCH}/installed)
# Where it was installed must not be remembered, nor where it was built.
set(prefix ${SCRATCH}/moved)
file(RENAME ${SCRATCH}/installed ${prefix})
file(GLOB_RECURSE texts ${prefix}/*.cmake ${prefix}/*.h)
foreach(text IN LISTS texts)
  file(READ ${text} content)
  foreach(folder IN ITEMS ${SOURCE} ${BUILD} ${SCRATCH})
    string(FIND "${content}" "${folder}" at)
    if(NOT at EQUAL -1)
      message(FATAL_ERROR "${text} names ${folder}")
    endif()
  endforeach()
endforeach()

run("Configuring the consumer" ${CMAKE_COMMAND} -S ${SOURCE}/tests/house/consumer -B ${SCRATCH}/consumer -G ${GENERATOR}
    -DCMAKE_BUILD_TYPE=${CONFIG} -DCMAKE_CXX_COMPILER=${COMPILER} -DCMAKE_CXX_COMPILER_LAUNCHER=${LAUNCHER}
    -DCMAKE_PREFIX_PATH=${prefix} -DSCANTLING_HEADERS=${prefix}/include/scantling)
run("Building the consumer" ${CMAKE_COMMAND} --build ${SCRATCH}/consumer)
run("Running the consumer" ${CMAKE_CTEST_COMMAND} --test-dir ${SCRATCH}/consumer --output-on-failure)
file(REMOVE_RECURSE ${SCRATCH})
