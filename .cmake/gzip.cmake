# gzip without a name or date, so that packing twice gives the same bytes.  -DFROM= -DTO=
execute_process(COMMAND gzip -9nc ${FROM} OUTPUT_FILE ${TO} COMMAND_ERROR_IS_FATAL ANY)
