global using System.Collections.Immutable;
