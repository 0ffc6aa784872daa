"""stoichkit: which candidate products do these readings exclude?"""
