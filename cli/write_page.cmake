# Writes what a command prints into a file.  -DPROGRAM= -DARGUMENTS=<list> -DFILE=
execute_process(COMMAND ${PROGRAM} ${ARGUMENTS} OUTPUT_FILE ${FILE} COMMAND_ERROR_IS_FATAL ANY)
