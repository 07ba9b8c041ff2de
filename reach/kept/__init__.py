"""What was found before is given again where nothing that it rests on has changed."""
