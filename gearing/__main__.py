from gearing.cli import main

main()
