"""Page: the local web page. The same steps as the command line, with no logic of its own."""
